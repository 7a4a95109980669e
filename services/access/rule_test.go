package access

import (
	"context"
	"slices"
	"strings"
	"testing"
)

func TestTheZeroRuleRefusesEverybody(t *testing.T) {
	for r := Nobody; r <= Service+1; r++ {
		if got := (Rule{}).Relation(r); got != Refused {
			t.Errorf("the role %s: got %v", r, got)
		}
	}
}

func TestALimitedRoleMustOwnWhatIsNamed(t *testing.T) {
	all := Rule{Roles: rolesOf(AllRoles()...), Names: []Name{{Field: "name", Form: "builds/{serial}"}}}
	nothing := Rule{Roles: all.Roles}
	for role, want := range map[Role]Relation{
		Owner: TheirOwn, Dealer: TheirOwn, Support: Anything, Engineer: Anything, Administrator: Anything, Service: Anything, Nobody: Refused,
	} {
		if got := all.Relation(role); got != want {
			t.Errorf("the role %s: got %v, want %v", role, got, want)
		}
		if want == TheirOwn && nothing.Relation(role) != Anything {
			t.Errorf("the role %s is refused a request that names nothing", role)
		}
	}
}

// These follow from the owner's brief for the door (design.md, Access), not
// from the table.
func TestTheTableKeepsToTheBrief(t *testing.T) {
	for method, rule := range Table() {
		ours := strings.HasPrefix(method, "/halfshaft.")
		verb := method[strings.LastIndexByte(method, '/')+1:]
		if ours && rule.Roles.Has(Nobody) {
			t.Errorf("%s is open to strangers", method)
		}
		for _, limited := range []Role{Owner, Dealer} {
			if ours && rule.Roles.Has(limited) && len(rule.Names) == 0 && verb != "WhoAmI" {
				t.Errorf("%s lets in the role %s without asking what is theirs", method, limited)
			}
		}
		// Signing in is for the pages, which are a service, to carry through.
		signIn := strings.Contains(method, ".SignInService/")
		serviceOnly := strings.HasPrefix(verb, "Watch") && ours || strings.HasSuffix(verb, "ForPerson") ||
			slices.Contains([]string{"CheckLink", "ReadCalendar", "TakeTextEvent", "NoteKeyUses", "ListContactChanges", "DeleteContactChange"}, verb)
		if serviceOnly != (rule.Roles == services) && !signIn {
			t.Errorf("%s: roles %s; watches, seals and what pages and passes ask, and nothing else, are for services alone", method, rule.Roles)
		}
		if ours && !serviceOnly && !signIn && !rule.Roles.Has(Administrator) {
			t.Errorf("%s is closed to administrators", method)
		}
		for _, forbidden := range []string{"AmendBuild", "CreateBuild", "CreateRelease", "StageImport", "CommitImport"} {
			if verb == forbidden && rule.Roles.Has(Support) {
				t.Errorf("%s is open to support staff", method)
			}
		}
		if rule.Bookkeeping && rule.Roles != services {
			t.Errorf("%s has no line in the audit and is open to %s", method, rule.Roles)
		}
	}
}

// A dealer sees the technical record of a vehicle assigned to them, records
// work on it, and nothing of people: who owns it, what they are told.
func TestADealerGetsTheTechnicalRecordAndNothingOfPeople(t *testing.T) {
	changes := []string{"CreateClaim", "UpdateClaim", "SubmitClaim", "AppealClaim", "WithdrawClaim", "RecordFollowUpStep",
		"RecordReading", "RecordService", "VoidServiceEntry", "RecordEvent", "EndAssignment", "CreateJobSheet", "CancelJobSheet", "ReturnJobSheet"}
	for method, rule := range Table() {
		if !rule.Roles.Has(Dealer) {
			continue
		}
		verb := method[strings.LastIndexByte(method, '/')+1:]
		if rule.Personal {
			t.Errorf("%s reads personal data and lets dealers in", method)
		}
		if Changes(method) && !slices.Contains(changes, verb) {
			t.Errorf("%s lets a dealer change something", method)
		}
		for _, closed := range []string{".OwnerService/", ".ReminderService/", ".AuditService/"} {
			if strings.Contains(method, closed) {
				t.Errorf("%s lets dealers in", method)
			}
		}
		for _, n := range rule.Names {
			if n.OfPerson() {
				t.Errorf("%s lets dealers in and names a person in %s", method, n.Field)
			}
		}
	}
}

func TestRolesAreReadAsTheyAreWritten(t *testing.T) {
	for _, r := range AllRoles() {
		if got, err := ParseRole(" " + strings.ToUpper(r.String())); err != nil || got != r || !r.Valid() {
			t.Errorf("%s: got %v, %v", r, got, err)
		}
	}
	for _, text := range []string{"", "nobody", "king"} {
		if got, err := ParseRole(text); err == nil {
			t.Errorf("%q: got %v", text, got)
		}
	}
	if got := rolesOf(Owner, Support).String(); got != "owner, support" {
		t.Errorf("got %q", got)
	}
	if Role(99).String() != "nobody" || Role(99).Valid() {
		t.Error("a role that is none has a name")
	}
}

func TestACallerTravelsInTheContext(t *testing.T) {
	if got := CallerFrom(context.Background()); got != (Caller{}) || got.Staff() || got.String() != "nobody" {
		t.Errorf("without a caller: got %v", got)
	}
	want := Caller{Role: Owner, Bearer: "owner", Person: "people/p0031"}
	if got := CallerFrom(NewContext(context.Background(), want)); got != want || strings.Contains(got.String(), "p0031") {
		t.Errorf("got %v", got)
	}
	for _, r := range AllRoles() {
		if got, want := (Caller{Role: r}).Staff(), r == Support || r == Engineer || r == Administrator; got != want {
			t.Errorf("%s: staff %v, want %v", r, got, want)
		}
	}
}
