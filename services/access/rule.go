package access

import "strings"

// Roles is a set of roles.
type Roles uint16

// rolesOf makes a set.
func rolesOf(roles ...Role) Roles {
	var set Roles
	for _, r := range roles {
		set |= 1 << r
	}
	return set
}

// Has reports whether the role is in the set.
func (s Roles) Has(r Role) bool { return s&(1<<r) != 0 }

func (s Roles) String() string {
	var names []string
	for r := Nobody; int(r) < len(roleNames); r++ {
		if s.Has(r) {
			names = append(names, r.String())
		}
	}
	return strings.Join(names, ", ")
}

// Relation is what must stand between a caller and what a request names.
type Relation uint8

// The relations.
const (
	Refused  Relation = iota // the role may not call the method at all
	Anything                 // nothing: the role sees all, or the request names nothing
	TheirOwn                 // the vehicle is the caller's today or assigned to them, or the person is the caller
)

// Limited reports whether the role sees only what is its own: an owner the
// vehicles they are tied to, a dealer those that an open assignment lets their
// organisation see.
func (r Role) Limited() bool { return r == Owner || r == Dealer || r == Nobody }

// Name says where a request names the vehicle, person or organisation it is
// about. The head of the form tells which: "builds/{serial}" and
// "vehicles/{serial}…" are vehicles, "people/{person}" is a person.
type Name struct {
	Field string // path in the request: "name", "use_fact.name"
	Form  string // pattern of the name there: "vehicles/{serial}/schedule"
	// OwnOfAll lets "vehicles/-" pass for a limited role too: the method
	// itself then gives only what is the caller's.
	OwnOfAll bool
}

// OfPerson reports whether the name is a person's.
func (n Name) OfPerson() bool { return strings.HasPrefix(n.Form, "people/") }

// OfOrganisation reports whether the name is an organisation's; what is neither
// that nor a person's is a vehicle's.
func (n Name) OfOrganisation() bool { return strings.HasPrefix(n.Form, "organisations/") }

// Rule says who may call a method, and what of a request a limited role must
// own. The zero Rule refuses everybody.
type Rule struct {
	Roles Roles
	// Names are all that a limited role must own, each of them. A rule that
	// lets a limited role in must list every vehicle, person and organisation
	// the request names.
	Names []Name
	// Personal says that what the method reads is personal, so that the audit
	// has a line for each answer to staff and dealers. Changes and refusals
	// always have one.
	Personal bool
	// Because is the field in which the caller says why, for the history of
	// what the request is about. Only words that the technical record keeps
	// too: never a field with personal data.
	Because string
	// Bookkeeping says that a call says nothing of what anybody did, but only
	// when: it has no line in the audit unless it is refused.
	Bookkeeping bool
}

// Relation gives what the rule asks of a role.
func (r Rule) Relation(role Role) Relation {
	switch {
	case !r.Roles.Has(role):
		return Refused
	case role.Limited() && len(r.Names) > 0:
		return TheirOwn
	}
	return Anything
}
