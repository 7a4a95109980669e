package warranty

import (
	"slices"

	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
)

// OwnerChanges gives, from the ties of a vehicle, the days after its delivery on
// which it came to somebody else, the oldest first. Who joins or leaves somebody
// who stays changes nothing, nor do days on which nobody is on record between
// two ties. Unknown says that on the day asked about nobody is on record who owns
// it, nor anybody later.
func OwnerChanges(ties []owner.Tie, delivered, on vehicle.Date) (changes []vehicle.Date, unknown bool) {
	var turns []vehicle.Date
	var owners []owner.Tie
	for _, t := range ties {
		if t.Role != owner.Owner || t.Over(delivered) || t.Over(t.Start) {
			continue
		}
		owners = append(owners, t)
		turns = append(turns, t.Start) // before delivery all of them hold together
		if !t.End.IsZero() {
			turns = append(turns, t.End)
		}
	}
	unknown = !slices.ContainsFunc(owners, func(t owner.Tie) bool { return !t.Over(on) })
	slices.SortFunc(turns, vehicle.Date.Compare)
	var had []string
	for _, day := range slices.Compact(turns) {
		has := holders(owners, day)
		if len(has) == 0 {
			continue
		}
		if had != nil && !slices.ContainsFunc(has, func(p string) bool { return slices.Contains(had, p) }) {
			changes = append(changes, day)
		}
		had = has
	}
	return changes, unknown
}

// holders are the persons whose tie lasts on a day.
func holders(ties []owner.Tie, on vehicle.Date) []string {
	var all []string
	for _, t := range ties {
		if t.Lasts(on) {
			all = append(all, t.Person)
		}
	}
	return all
}
