package access

import (
	"fmt"
	"strings"
	"time"

	"halfshaft/services/fault"
)

// Account is somebody who works at the works or at a dealer, and signs in.
type Account struct {
	ID           string // "ida": the name to sign in with, which records and the audit show
	FullName     string // how they are called among colleagues
	Role         Role   // dealer, support, engineer or administrator
	Organisation string // "organisations/{organisation}" for a dealer's people; otherwise empty
	Created      time.Time
	Closed       time.Time // zero while it is open
}

// accounts begins the resource name of every account.
const accounts = "accounts/"

// Name gives the resource name: "accounts/ida".
func (a Account) Name() string { return accounts + a.ID }

// Open reports whether its holder may come in, as far as the account goes: a
// dealer's organisation must be open as well.
func (a Account) Open() bool { return a.Closed.IsZero() }

// Caller gives who the holder of the account is. The credential is for whoever
// let them in to name.
func (a Account) Caller() Caller {
	return Caller{Role: a.Role, Bearer: a.ID, Organisation: a.Organisation, Account: a.Name()}
}

// An account's identifier may be initials.
const (
	shortestAccount = 2
	longestAccount  = 40
)

// AccountID gives the identifier in "accounts/{account}"; false when the text
// cannot be the name of one.
func AccountID(name string) (id string, ok bool) {
	id, ok = strings.CutPrefix(name, accounts)
	return id, ok && ValidAccountID(id)
}

// ValidAccountID reports whether the text can be an account's identifier.
func ValidAccountID(id string) bool { return spelled(id, "-.", shortestAccount, longestAccount) }

// ProposedAccount completes an account that is to be made or changed and says
// what is wrong with it. Its fields are those of the API: name, full_name,
// role, organisation. Whether the organisation is there and open is for the
// caller to see.
func ProposedAccount(a Account) (Account, []fault.Field) {
	var faults []fault.Field
	wrong := func(name, got, want string) { faults = append(faults, fault.Field{Name: name, Got: got, Want: want}) }
	if !ValidAccountID(a.ID) {
		wrong("name", a.ID, fmt.Sprintf("accounts/{account} with %d to %d of a-z, 0-9, - and ., beginning with a letter", shortestAccount, longestAccount))
	}
	a.FullName = strings.TrimSpace(a.FullName)
	if a.FullName == "" || !printable(a.FullName) {
		wrong("full_name", a.FullName, fmt.Sprintf("how they are called among colleagues, in 1 to %d printable characters", maxText))
	}
	if !signsIn(a.Role) {
		wrong("role", a.Role.String(), "dealer, support, engineer or administrator")
	}
	_, named := OrganisationID(a.Organisation)
	switch {
	case a.Role == Dealer && !named:
		wrong("organisation", a.Organisation, "organisations/{organisation}, since the account is a dealer's")
	case a.Role != Dealer && a.Organisation != "":
		wrong("organisation", a.Organisation, "nothing, since the account is not a dealer's")
	}
	return a, faults
}

// signsIn reports whether a role is that of people with accounts: owners come
// by links, services by keys.
func signsIn(r Role) bool {
	return r == Dealer || r == Support || r == Engineer || r == Administrator
}
