package access

import "halfshaft/services/vehicle"

// Tie is what binds a person to a vehicle, as far as rights rest on it.
type Tie struct {
	ID         string
	Vehicle    vehicle.Serial
	Person     string       // "people/{person}"
	Start, End vehicle.Date // End no longer counts; zero while it lasts
	// Gives says that it gives rights: an owner's does, and so do an executor's,
	// who acts in the owner's place, and a caretaker's, since whoever keeps the
	// vehicle reads its odometer. To pay for it gives none. What only an owner or
	// executor may do is for the method to ask.
	Gives bool
}

// Holds decides whether the tie gives a person rights on a day in UTC. Nothing
// is nobody's.
func (t Tie) Holds(person string, on vehicle.Date) bool {
	return t.Gives && person != "" && t.Person == person && !on.Before(t.Start) && (t.End.IsZero() || on.Before(t.End))
}
