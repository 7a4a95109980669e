package schedule

import (
	"halfshaft/services/vehicle"
)

// DueState says where an item stands; the numbers are those of
// halfshaft.schedule.v1.
type DueState uint8

// The states.
const (
	DueUnspecified DueState = iota
	NotYet
	Coming
	Due
	Overdue
	NothingToDo
)

// Limb is one of the two limits; the numbers are those of
// halfshaft.schedule.v1.
type Limb uint8

// The limbs.
const (
	NoLimb Limb = iota
	TimeLimb
	DistanceLimb
)

// Status is where one item stands on the day asked for. It is plain numbers, so
// that a fleet is recomputed without allocating; the accessors give dates.
type Status struct {
	Item     uint16 // index in the programme
	State    DueState
	Binding  Limb
	Bedding  bool      // the bedding-in round
	Severe   bool      // hard use decides the due date
	Moved    bool      // a lay-up moved the day to act on
	Revised  bool      // a new version of the programme decides the due date
	Event    EventKind // the event that decides, NoEvent for an interval
	basis    basis
	event    int32 // index of that event in Vehicle.Events; -1 for a declared lay-up
	entry    int32 // index of the last entry, -1 for none
	lastDone day
	fit      *Fit         // the component that decides
	earlier  *EarlierWork // the last time it was done, where that was before the unit came here
	here     day          // the day on which the unit came here, where it was bedded in elsewhere; else noDay
	anchor   day          // what the limits are counted from
	cycle    day
	due      day
	timeDue  day
	distDue  day
	notBy    day // not before
	kept     day // the due date that the round is counted from in time, where that is not the anchor
	actBy    day
	months   int32 // the time limb that was applied; 0 for none
	limit    vehicle.Distance
	anchorAt vehicle.Distance // distance at the anchor
	dueAt    vehicle.Distance // distance at which the distance limb falls
}

// basis says what an item's round rests on.
type basis uint8

const (
	basisNone         basis = iota // nothing has started it
	basisNotDelivered              // still at the works
	basisOnce                      // it was to be done once and is done
	basisOnFinding                 // it has no limits
	basisOutsideLayUp              // it is for a lay-up, and there is none
	basisDone                      // the work was last done at the anchor
	basisFitting                   // the component was fitted or overhauled at the anchor
	basisDelivery                  // the vehicle was delivered at the anchor
	basisLayUp                     // it was put away at the anchor
	basisEvent                     // the event happened at the anchor
)

// DueDate is the day by which it is to be done; zero when nothing is, or when
// its distance is not in sight.
func (s *Status) DueDate() vehicle.Date { return s.due.date() }

// TimeDueDate is when the time limb falls; zero without one.
func (s *Status) TimeDueDate() vehicle.Date { return s.timeDue.date() }

// DistanceDueDate is when the distance limb falls; zero without one, or when it
// is not in sight.
func (s *Status) DistanceDueDate() vehicle.Date { return s.distDue.date() }

// DueDistance is the true distance at which the distance limb falls; false
// without one.
func (s *Status) DueDistance() (vehicle.Distance, bool) { return s.dueAt, s.limit > 0 }

// LastDone is the day it was last done to the unit that stands there now, and
// the index of the entry in Vehicle.Entries; zero and -1 when it never was. The
// index is -1 too when it was done before the unit came here, see Earlier.
func (s *Status) LastDone() (vehicle.Date, int) { return s.lastDone.date(), int(s.entry) }

// NotBefore is the day before which an item that an event started is not to be
// done; zero where there is none.
func (s *Status) NotBefore() vehicle.Date { return s.notBy.date() }

// ActBy is the day to act on: the due date, or where a lay-up moved it; zero
// when the end of the lay-up is not known.
func (s *Status) ActBy() vehicle.Date { return s.actBy.date() }

// Cycle identifies the round: the item and the day it is counted from. It stays
// the same until the item is done.
func (s *Status) Cycle(id string) string {
	if s.cycle == noDay {
		return ""
	}
	return id + "." + s.cycle.date().String()
}

// Open says whether there is something to do, now or later.
func (s *Status) Open() bool { return s.State != NothingToDo }

// Before orders statuses by urgency: overdue first, then by the day to act on,
// then as in the programme.
func (s *Status) Before(o *Status) int {
	if a, b := s.rank(), o.rank(); a != b {
		return a - b
	}
	if s.actBy != o.actBy {
		return compareDays(s.actBy, o.actBy)
	}
	return int(s.Item) - int(o.Item)
}

func (s *Status) rank() int {
	switch s.State {
	case Overdue:
		return 0
	case Due:
		return 1
	case Coming:
		return 2
	case NotYet:
		return 3
	}
	return 4
}

// compareDays puts unknown days last.
func compareDays(a, b day) int {
	if a == noDay {
		a = endDay
	}
	if b == noDay {
		b = endDay
	}
	return int(a) - int(b)
}
