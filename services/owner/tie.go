package owner

import (
	"cmp"
	"fmt"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Role is what a person is to a vehicle. Its numbers are those of the API's
// enumeration.
type Role uint8

// The roles.
const (
	NoRole    Role = iota
	Owner          // owns it
	Caretaker      // looks after it
	Payer          // pays for it
	Executor       // acts for the estate of an owner who died
)

var roleNames = [...]string{"no role", "owner", "caretaker", "payer", "executor"}

func (r Role) String() string {
	if int(r) < len(roleNames) {
		return roleNames[r]
	}
	return roleNames[NoRole]
}

// Tie says that a person was or is something to a vehicle. Ties end; they are
// never deleted.
type Tie struct {
	Serial  vehicle.Serial
	ID      string
	Person  string // identifier of the person
	Role    Role
	Notices bool         // whether service notices go to the person
	Start   vehicle.Date // the first day
	End     vehicle.Date // no longer counts; zero while the tie lasts
}

// Lasts reports whether the tie holds on a day: from its first, up to but not
// on the day it ended.
func (t Tie) Lasts(on vehicle.Date) bool {
	return !on.Before(t.Start) && !t.Over(on)
}

// Over reports whether the tie has ended by a day: on that day or before.
func (t Tie) Over(on vehicle.Date) bool { return !t.End.IsZero() && !t.End.After(on) }

// overlaps reports whether there is a day on which both ties hold.
func (t Tie) overlaps(o Tie) bool {
	return (t.End.IsZero() || o.Start.Before(t.End)) && (o.End.IsZero() || t.Start.Before(o.End)) &&
		(t.End.IsZero() || t.Start.Before(t.End)) && (o.End.IsZero() || o.Start.Before(o.End))
}

// Faults says what is wrong with a tie by itself.
func (t Tie) Faults() []fault.Field {
	var out []fault.Field
	if t.Role == NoRole || int(t.Role) >= len(roleNames) {
		out = append(out, fault.Field{Name: "role", Want: "owner, caretaker, payer or executor"})
	}
	if t.Start.IsZero() {
		out = append(out, fault.Field{Name: "start_date", Want: "the first day of the tie"})
	}
	if !t.End.IsZero() && t.End.Before(t.Start) {
		out = append(out, fault.Field{Name: "end_date", Got: t.End.String(), Want: "the start, " + t.Start.String() + ", or later"})
	}
	return out
}

// Admit decides whether a new tie may stand beside those of the same vehicle:
// nil, or a FailedPrecondition refusal. Nobody is the same thing twice at
// once; and while one person's ownership lasts, a second owner is admitted
// only if the two are to own it together.
func Admit(beside []Tie, t Tie, joint bool) error {
	for _, old := range beside {
		if old.ID == t.ID || old.Role != t.Role || !old.overlaps(t) {
			continue
		}
		if old.Person == t.Person {
			return refused("TIE_TWICE", old, "The person is %s of %s already, since %s.", t.Role, t.Serial, old.Start)
		}
		if t.Role == Owner && !joint {
			return refused("OWNER_PRESENT", old,
				"%s has an owner since %s: end that tie first, or say that they own it jointly.", t.Serial, old.Start)
		}
	}
	return nil
}

func refused(reason string, old Tie, format string, args ...any) error {
	return &fault.Error{
		Kind: fault.FailedPrecondition, Reason: reason, Message: fmt.Sprintf(format, args...),
		Meta: map[string]string{"record": "vehicles/" + string(old.Serial) + "/ties/" + old.ID},
	}
}

// Ended gives the tie as it reads once it has ended on a day. A tie that has
// ended stays as it was: what happened since is another tie.
func (t Tie) Ended(on vehicle.Date) (Tie, error) {
	if !t.End.IsZero() {
		return Tie{}, refused("TIE_ENDED", t, "The tie ended on %s.", t.End)
	}
	t.End = on
	if on.IsZero() {
		return Tie{}, fault.InvalidField("end_date", "", "the day the tie ends, which no longer counts")
	}
	if on.Before(t.Start) {
		return Tie{}, fault.InvalidField("end_date", on.String(), "the start, "+t.Start.String()+", or later")
	}
	return t, nil
}

// Cut gives the tie as it reads when everything before a day is over: ended on
// that day, or on its first where that comes later. One that ended by then
// stays as it was.
func (t Tie) Cut(on vehicle.Date) Tie {
	if t.Start.After(on) {
		on = t.Start
	}
	if !t.Over(on) {
		t.End = on
	}
	return t
}

// Holds reports whether the person is owner or executor of the vehicle on a
// day: whoever may give it into other hands.
func Holds(ties []Tie, person string, on vehicle.Date) bool {
	for _, t := range ties {
		if t.Person == person && (t.Role == Owner || t.Role == Executor) && t.Lasts(on) {
			return true
		}
	}
	return false
}

// Order sorts ties by vehicle, then the oldest first, then by identifier.
func Order(a, b Tie) int {
	return cmp.Or(cmp.Compare(a.Serial, b.Serial), a.Start.Compare(b.Start), cmp.Compare(a.ID, b.ID))
}
