package build

import (
	"fmt"

	"halfshaft/services/vehicle"
)

// Holding is the time that one component with a serial of its own spends at
// one position of one vehicle.
type Holding struct {
	Key         string // the component's serial, folded
	Serial      string // as written
	Vehicle     vehicle.Serial
	Position    string
	From, Until vehicle.Date // Until zero: it is there now
}

// Holdings gives where the vehicle's components with a serial were and are.
func (t *Timeline) Holdings(serial vehicle.Serial) []Holding {
	var all []Holding
	for i := range t.Stays {
		s := &t.Stays[i]
		unit := s.Current() // an overhaul may have found out the serial
		key := Fold(unit.Serial)
		if key == "" {
			continue
		}
		all = append(all, Holding{key, unit.Serial, serial, s.Component.Position, s.From, s.Until})
	}
	return all
}

// Open says whether the component is there now.
func (h Holding) Open() bool { return h.Until.IsZero() }

// overlaps says whether two holdings share a day and more: a component can be
// taken off one vehicle and fitted to another on one day.
func (h Holding) overlaps(other Holding) bool {
	return (other.Open() || h.From.Before(other.Until)) && (h.Open() || other.From.Before(h.Until))
}

func (h Holding) String() string {
	if h.Open() {
		return fmt.Sprintf("%s at %s since %s", Name(h.Vehicle), h.Position, h.From)
	}
	return fmt.Sprintf("%s at %s from %s to %s", Name(h.Vehicle), h.Position, h.From, h.Until)
}

// Conflict is a component that would be in two places at once.
type Conflict struct{ Holding, Other Holding }

// Conflicts finds the first other place, for each holding of mine, where the
// same component stood at the same time: in others, or in mine itself. A
// component gets from one vehicle to another by a move, which ends the one
// holding when it begins the other.
func Conflicts(mine, others []Holding) []Conflict {
	elsewhere := map[string][]Holding{}
	for _, o := range others {
		elsewhere[o.Key] = append(elsewhere[o.Key], o)
	}
	var found []Conflict
	for _, h := range mine {
		for _, o := range elsewhere[h.Key] {
			if h.overlaps(o) {
				found = append(found, Conflict{h, o})
				break
			}
		}
		elsewhere[h.Key] = append(elsewhere[h.Key], h)
	}
	return found
}

// Moved gives what differs between a vehicle's holdings before and after a
// write: the keys of the components that came, went or changed their dates.
func Moved(before, after []Holding) []string {
	count := map[Holding]int{}
	for _, h := range before {
		count[h]--
	}
	for _, h := range after {
		count[h]++
	}
	seen := map[string]bool{}
	var keys []string
	for _, list := range [][]Holding{before, after} {
		for _, h := range list {
			if count[h] != 0 && !seen[h.Key] {
				seen[h.Key] = true
				keys = append(keys, h.Key)
			}
		}
	}
	return keys
}
