package ownerstore

import (
	"encoding/json"
	"fmt"
	"iter"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/projection"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/vehicle"
)

// record is a value as stored.
type record struct {
	value       []byte
	modRevision int64
}

// TieRecord is a tie as it stands at a revision.
type TieRecord struct {
	owner.Tie
	ModRevision int64
}

// TransferRecord is a transfer as it stands at a revision.
type TransferRecord struct {
	owner.Transfer
	ModRevision int64
}

// StandingRecord is a standing as it stands at a revision.
type StandingRecord struct {
	owner.Standing
	ModRevision int64
}

// erasureRecord is an erasure as it stands at a revision.
type erasureRecord struct {
	owner.Erasure
	modRevision int64
}

// change is a replacement of the master key under way.
type change struct {
	From string `json:"from"` // identifiers, in hex
	To   string `json:"to"`

	modRevision int64
}

// state is what etcd holds, as last told.
type state struct {
	people    map[string]record            // sealed
	wrapped   map[string]record            // person's key
	consents  map[string]map[string]record // of a person, sealed
	documents map[string]map[string]record // likewise
	moved     map[string]map[string]record // whose address was replaced, likewise
	ties      map[vehicle.Serial][]TieRecord
	guards    map[vehicle.Serial]int64 // revision of the vehicle's record
	transfers map[vehicle.Serial][]TransferRecord
	codes     map[vehicle.Serial]record
	guesses   map[string]record
	standings map[vehicle.Serial]StandingRecord
	erasures  map[string]erasureRecord
	master    record  // its identifier
	change    *change // nil while none is under way
}

func newState() state {
	return state{
		people: map[string]record{}, wrapped: map[string]record{},
		consents: map[string]map[string]record{}, documents: map[string]map[string]record{}, moved: map[string]map[string]record{},
		ties: map[vehicle.Serial][]TieRecord{}, guards: map[vehicle.Serial]int64{},
		transfers: map[vehicle.Serial][]TransferRecord{}, codes: map[vehicle.Serial]record{}, guesses: map[string]record{},
		standings: map[vehicle.Serial]StandingRecord{}, erasures: map[string]erasureRecord{},
	}
}

// Apply implements projection.Handler.
func (s *Store) Apply(events []projection.Event, revision int64) error {
	var changed []vehicle.Serial
	s.mu.Lock()
	for _, e := range events {
		serial, err := s.applyOne(e)
		if err != nil {
			s.mu.Unlock()
			return err
		}
		if serial != "" {
			changed = append(changed, serial)
		}
	}
	s.mu.Unlock()
	s.hub.Publish(changed, revision)
	return nil
}

// Known implements projection.Handler.
func (s *Store) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		s.mu.RLock()
		defer s.mu.RUnlock()
		s.state.each(yield)
	}
}

// each gives every key with its revision, until yield has enough.
func (s *state) each(yield func(string, int64) bool) {
	more := true
	give := func(key string, revision int64) { more = more && yield(key, revision) }
	if s.master.value != nil {
		give(masterRecord, s.master.modRevision)
	}
	if s.change != nil {
		give(masterChangeMark, s.change.modRevision)
	}
	for prefix, of := range map[string]map[string]record{peoplePrefix: s.people, keysPrefix: s.wrapped} {
		for id, r := range of {
			give(prefix+id, r.modRevision)
		}
	}
	for prefix, of := range map[string]map[string]map[string]record{consentsPrefix: s.consents, documentsPrefix: s.documents, changesPrefix: s.moved} {
		for person, list := range of {
			for id, r := range list {
				give(prefix+person+"/"+id, r.modRevision)
			}
		}
	}
	for serial, revision := range s.guards {
		give(vehicleKey(serial), revision)
	}
	for _, list := range s.ties {
		for _, t := range list {
			give(tieKey(t.Tie), t.ModRevision)
		}
	}
	for _, list := range s.transfers {
		for _, t := range list {
			give(transferKey(t.Transfer), t.ModRevision)
		}
	}
	for serial, r := range s.codes {
		give(codesPrefix+string(serial), r.modRevision)
	}
	for id, r := range s.guesses {
		give(guessesPrefix+id, r.modRevision)
	}
	for serial, r := range s.standings {
		give(standingsPrefix+string(serial), r.ModRevision)
	}
	for id, r := range s.erasures {
		give(erasuresPrefix+id, r.modRevision)
	}
}

// applyOne takes in one event and gives the vehicle whose ties or standing it
// changed.
func (s *Store) applyOne(e projection.Event) (vehicle.Serial, error) {
	kind, id, _ := strings.Cut(strings.TrimPrefix(e.Key, prefix), "/")
	st := &s.state
	switch kind {
	case "people":
		if _, there := st.people[id]; there == e.Deleted {
			s.ids = nil
		}
		put(st.people, id, e)
	case "person-keys":
		put(st.wrapped, id, e)
	case "consents":
		putUnder(st.consents, id, e)
	case "documents":
		putUnder(st.documents, id, e)
	case "contact-changes":
		putUnder(st.moved, id, e)
	case "codes":
		put(st.codes, vehicle.Serial(id), e)
	case "guesses":
		put(st.guesses, id, e)
	case "vehicles":
		st.guards[vehicle.Serial(id)] = e.ModRevision
		if e.Deleted {
			delete(st.guards, vehicle.Serial(id))
		}
	case "master-key":
		st.master = record{e.Value, e.ModRevision}
	case "master-key-change":
		return "", st.applyChange(e)
	case "erasures":
		return "", st.applyErasure(e, id)
	case "transfers":
		return "", st.applyTransfer(e, id)
	case "standings":
		return vehicle.Serial(id), st.applyStanding(e, vehicle.Serial(id))
	case "ties":
		if serial, _, _ := strings.Cut(id, "/"); len(st.ties[vehicle.Serial(serial)]) == 0 {
			s.serials = nil
		}
		return st.applyTie(e, id)
	}
	return "", nil
}

func put[K ~string](into map[K]record, id K, e projection.Event) {
	if e.Deleted {
		delete(into, id)
		return
	}
	into[id] = record{e.Value, e.ModRevision}
}

// putUnder takes in a record whose key is <person>/<id>.
func putUnder(into map[string]map[string]record, path string, e projection.Event) {
	person, id, _ := strings.Cut(path, "/")
	if into[person] == nil {
		into[person] = map[string]record{}
	}
	if put(into[person], id, e); len(into[person]) == 0 {
		delete(into, person)
	}
}

func (s *state) applyChange(e projection.Event) error {
	if s.change = nil; e.Deleted {
		return nil
	}
	c := &change{modRevision: e.ModRevision}
	if err := json.Unmarshal(e.Value, c); err != nil {
		return fmt.Errorf("the change of the master key cannot be read: %w", err)
	}
	s.change = c
	return nil
}

func (s *state) applyErasure(e projection.Event, id string) error {
	if e.Deleted {
		delete(s.erasures, id)
		return nil
	}
	var p ownerv1.Erasure
	if err := proto.Unmarshal(e.Value, &p); err != nil {
		return fmt.Errorf("the erasure %s cannot be read: %w", id, err)
	}
	s.erasures[id] = erasureRecord{ownerwire.Erasure(&p), e.ModRevision}
	return nil
}

func (s *state) applyStanding(e projection.Event, serial vehicle.Serial) error {
	if e.Deleted {
		delete(s.standings, serial)
		return nil
	}
	var p ownerv1.Standing
	if err := proto.Unmarshal(e.Value, &p); err != nil {
		return fmt.Errorf("the standing of %s cannot be read: %w", serial, err)
	}
	standing, faults := ownerwire.Standing(&p)
	if len(faults) > 0 {
		return fmt.Errorf("the standing of %s cannot be read: %v", serial, faults)
	}
	standing.Serial = serial
	s.standings[serial] = StandingRecord{standing, e.ModRevision}
	return nil
}

func (s *state) applyTransfer(e projection.Event, path string) error {
	text, id, _ := strings.Cut(path, "/")
	serial := vehicle.Serial(text)
	// A new list each time, since readers may hold the old one.
	list := slices.DeleteFunc(slices.Clone(s.transfers[serial]), func(t TransferRecord) bool { return t.ID == id })
	if !e.Deleted {
		var p ownerv1.Transfer
		if err := proto.Unmarshal(e.Value, &p); err != nil {
			return fmt.Errorf("the transfer %s cannot be read: %w", path, err)
		}
		t, err := ownerwire.Transfer(&p)
		if err != nil {
			return fmt.Errorf("the transfer %s cannot be read: %w", path, err)
		}
		t.Serial, t.ID = serial, id
		list = append(list, TransferRecord{t, e.ModRevision})
		slices.SortFunc(list, func(a, b TransferRecord) int { return owner.OrderTransfers(a.Transfer, b.Transfer) })
	}
	s.transfers[serial] = list
	return nil
}

func (s *state) applyTie(e projection.Event, path string) (vehicle.Serial, error) {
	text, id, _ := strings.Cut(path, "/")
	serial := vehicle.Serial(text)
	// A new list each time, since readers may hold the old one.
	list := slices.DeleteFunc(slices.Clone(s.ties[serial]), func(t TieRecord) bool { return t.ID == id })
	if !e.Deleted {
		var p ownerv1.Tie
		if err := proto.Unmarshal(e.Value, &p); err != nil {
			return "", fmt.Errorf("the tie %s cannot be read: %w", path, err)
		}
		t, faults := ownerwire.Tie(&p)
		if len(faults) > 0 {
			return "", fmt.Errorf("the tie %s cannot be read: %v", path, faults)
		}
		t.Serial, t.ID = serial, id
		list = append(list, TieRecord{t, e.ModRevision})
		slices.SortFunc(list, func(a, b TieRecord) int { return owner.Order(a.Tie, b.Tie) })
	}
	s.ties[serial] = list
	return serial, nil
}
