package schedulerpc

import (
	"fmt"
	"maps"
	"slices"
	"sync"

	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/build"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/vehicle"
)

// partsUsed knows which vehicles had a part or a lot used on them, so that a
// question about one need not read the entries of all. It is brought up to date
// when it is asked, and not when entries come: most of the entries of a start
// are never asked about, and nobody who records work is to wait for it. The
// zero value is ready.
type partsUsed struct {
	mu       sync.Mutex
	revision int64 // of the store when it was last looked through
	known    map[vehicle.Serial]vehicleParts
	byTerm   map[term][]vehicle.Serial // in order
}

// vehicleParts is what the index holds of one vehicle, and the history it is of.
type vehicleParts struct {
	history *schedulestore.History
	terms   []term // in order
}

// term is something that can be asked for: a part by its normal number, or a
// lot by its folded one.
type term string

func partTerm(number string) term { return term("p" + build.Fold(number)) }
func lotTerm(lot string) term     { return term("l" + build.Fold(lot)) }

// vehicles gives, in order, the vehicles that may have uses that a question
// asks for; the list is the caller's.
func (x *partsUsed) vehicles(store *schedulestore.Store, asked partsAsked) ([]vehicle.Serial, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if err := x.catchUp(store); err != nil {
		return nil, err
	}
	if len(asked.parts) == 0 {
		return slices.Clone(x.byTerm[term("l"+asked.lot)]), nil
	}
	var all []vehicle.Serial
	for number := range asked.parts {
		all = append(all, x.byTerm[term("p"+number)]...)
	}
	slices.Sort(all)
	return slices.Compact(all), nil
}

// catchUp takes in the histories that were replaced since the last time.
func (x *partsUsed) catchUp(store *schedulestore.Store) error {
	revision := store.Revision() // what comes in between is looked at again the next time
	if revision == x.revision {
		return nil
	}
	if x.known == nil {
		x.known, x.byTerm = map[vehicle.Serial]vehicleParts{}, map[term][]vehicle.Serial{}
	}
	histories := maps.Collect(store.Histories())
	for _, serial := range slices.Sorted(maps.Keys(histories)) { // so that lists grow at their ends
		h, was := histories[serial], x.known[serial]
		if h == was.history {
			continue
		}
		terms, err := termsOf(h)
		if err != nil {
			return fmt.Errorf("read the parts used on %s: %w", serial, err)
		}
		x.replace(serial, was.terms, terms)
		x.known[serial] = vehicleParts{h, terms}
	}
	x.revision = revision
	return nil
}

// replace puts a vehicle under its terms and takes it from those it had.
func (x *partsUsed) replace(serial vehicle.Serial, had, has []term) {
	for _, t := range had {
		if _, still := slices.BinarySearch(has, t); still {
			continue
		}
		if i, found := slices.BinarySearch(x.byTerm[t], serial); found {
			x.byTerm[t] = slices.Delete(x.byTerm[t], i, i+1)
		}
		if len(x.byTerm[t]) == 0 {
			delete(x.byTerm, t)
		}
	}
	for _, t := range has {
		if i, found := slices.BinarySearch(x.byTerm[t], serial); !found {
			x.byTerm[t] = slices.Insert(x.byTerm[t], i, serial)
		}
	}
}

// termsOf gives what a vehicle is found under, in order.
func termsOf(h *schedulestore.History) ([]term, error) {
	var terms []term
	for stored := range h.All(schedulestore.Entries) {
		e := &schedulev1.ServiceEntry{}
		if err := proto.Unmarshal(stored.Value, e); err != nil {
			return nil, err
		}
		for _, used := range usedIn(e) {
			terms = append(terms, partTerm(used.GetPart()))
			if lot := lotTerm(used.GetLot()); lot != "l" {
				terms = append(terms, lot)
			}
		}
	}
	slices.Sort(terms)
	return slices.Clip(slices.Compact(terms)), nil
}
