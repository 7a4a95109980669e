package access

import (
	"slices"
	"strings"

	"halfshaft/services/fault"
)

// Role is what a caller is, as far as the table of methods asks. The zero
// value is Nobody, who may do nothing.
type Role uint8

// The roles. Their numbers are those of the API's enumeration.
const (
	Nobody        Role = iota
	Owner              // sees the vehicles that are theirs now
	Dealer             // a dealer or independent mechanic
	Support            // support staff of the works
	Engineer           // an engineer of the works
	Administrator      // an administrator of the works
	Service            // a service or job of halfshaft itself
)

var roleNames = [...]string{"nobody", "owner", "dealer", "support", "engineer", "administrator", "service"}

// AllRoles gives every role a caller can have, without Nobody.
func AllRoles() []Role { return []Role{Owner, Dealer, Support, Engineer, Administrator, Service} }

func (r Role) String() string {
	if int(r) < len(roleNames) {
		return roleNames[r]
	}
	return roleNames[Nobody]
}

// Valid reports whether a caller can have the role: Nobody is not valid.
func (r Role) Valid() bool { return r > Nobody && int(r) < len(roleNames) }

// ParseRole reads what String writes, in any case. "nobody" is refused.
func ParseRole(text string) (Role, error) {
	if i := slices.Index(roleNames[:], strings.ToLower(strings.TrimSpace(text))); i > 0 {
		return Role(i), nil
	}
	return Nobody, fault.InvalidField("role", text, "one of "+strings.Join(roleNames[1:], ", "))
}
