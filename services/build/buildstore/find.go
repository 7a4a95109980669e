package buildstore

import (
	"strings"
	"sync"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// The haystack of a vehicle is every number under which it can be found,
// folded, each in a line of its own; a component's serial has a mark in front,
// so that it can be looked for whole. Neither line end nor mark can be in a
// folded text.
const componentMark = ":"

// hay gives the haystack of a vehicle. It is made once for each state of the
// vehicle; two who make it at the same time make the same.
func (s *Store) hay(e *entry) (string, error) {
	if h := e.haystack.Load(); h != nil {
		return *h, nil
	}
	terms, err := s.terms(e)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	b.WriteByte('\n')
	for _, t := range terms {
		if t.Kind == build.TermComponent {
			b.WriteString(componentMark)
		}
		b.WriteString(build.Fold(t.Text))
		b.WriteByte('\n')
	}
	h := b.String()
	e.haystack.Store(&h)
	return h, nil
}

// found keeps the numbers of the vehicles last found: whoever is asked about one
// looks for it again. An entry is replaced when its vehicle changes; a release
// never changes, and what is not here yet gives no terms but an error.
type found struct {
	mu sync.Mutex
	of map[*entry][]build.Term
}

// mostFound bounds what is kept: some kilobytes for each vehicle.
const mostFound = 128

// termsFound is terms, kept for a while; not to be changed.
func (s *Store) termsFound(e *entry) ([]build.Term, error) {
	f := &s.found
	f.mu.Lock()
	terms, ok := f.of[e]
	f.mu.Unlock()
	if ok {
		return terms, nil
	}
	terms, err := s.terms(e)
	if err != nil {
		return nil, err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.of == nil {
		f.of = map[*entry][]build.Term{}
	}
	for old := range f.of {
		if len(f.of) < mostFound {
			break
		}
		delete(f.of, old)
	}
	f.of[e] = terms
	return terms, nil
}

func (s *Store) terms(e *entry) ([]build.Term, error) {
	v, err := e.decode()
	if err != nil {
		return nil, err
	}
	return build.Terms(&v.Record, v.Changes, s.Releases())
}

// Found is a vehicle and the number by which it was found.
type Found struct {
	Serial vehicle.Serial
	Term   build.Term
}

// Find gives the vehicles that have a fragment, a folded text, in one of their
// numbers, in order of serial.
func (s *Store) Find(fragment string) ([]Found, error) {
	var found []Found
	for _, serial := range s.Serials() {
		e := s.memory.entry(serial)
		if e == nil {
			continue
		}
		h, err := s.hay(e)
		if err != nil {
			return nil, err
		}
		if !strings.Contains(h, fragment) {
			continue
		}
		terms, err := s.termsFound(e)
		if err != nil {
			return nil, err
		}
		if t, ok := build.Match(terms, fragment); ok {
			found = append(found, Found{serial, t})
		}
	}
	return found, nil
}

// Warm makes the haystacks beforehand, so that the first who asks does not
// wait for all of them. It stops when going says so.
func (s *Store) Warm(going func() bool) {
	for _, serial := range s.Serials() {
		if !going() {
			return
		}
		if e := s.memory.entry(serial); e != nil {
			_, _ = s.hay(e) // whoever asks gets the error
		}
	}
}

// holdingsOf gives where the components of these keys were and are, on every
// vehicle but those left out.
func (s *Store) holdingsOf(keys []string, leftOut ...vehicle.Serial) ([]build.Holding, error) {
	var all []build.Holding
	for _, serial := range s.Serials() {
		e := s.memory.entry(serial)
		if e == nil || contains(leftOut, serial) {
			continue
		}
		h, err := s.hay(e)
		if err != nil {
			return nil, err
		}
		if !holdsAny(h, keys) {
			continue
		}
		v, err := e.decode()
		if err != nil {
			return nil, err
		}
		holdings, err := v.Holdings(s.Releases())
		if err != nil {
			return nil, err
		}
		all = append(all, holdings...)
	}
	return all, nil
}

func holdsAny(hay string, keys []string) bool {
	for _, k := range keys {
		if strings.Contains(hay, "\n"+componentMark+k+"\n") {
			return true
		}
	}
	return false
}

func contains(list []vehicle.Serial, serial vehicle.Serial) bool {
	for _, s := range list {
		if s == serial {
			return true
		}
	}
	return false
}

// Holdings gives where the vehicle's components with a serial were and are.
func (v *Vehicle) Holdings(releases build.ReleaseSet) ([]build.Holding, error) {
	t, err := build.TimelineOf(v.Record, v.Changes, releases)
	if err != nil {
		return nil, err
	}
	return t.Holdings(v.Record.Serial), nil
}
