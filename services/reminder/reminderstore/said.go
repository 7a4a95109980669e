package reminderstore

import (
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/projection"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
)

// said is what people told the works, projected beside the state: answers that
// hold, cadences, and the numbers of links. The state's lock covers it.
type said struct {
	answers  map[string]reminder.Answer // by key; withdrawn ones left out
	of       map[vehicle.Serial][]string
	cadences reminder.Cadences
	epochs   map[string]int // by person
}

func newSaid() said {
	return said{
		answers: map[string]reminder.Answer{}, of: map[vehicle.Serial][]string{},
		cadences: reminder.Cadences{}, epochs: map[string]int{},
	}
}

// apply takes in one event; one that it keeps nothing of is passed over.
func (s *said) apply(e projection.Event) error {
	switch {
	case strings.HasPrefix(e.Key, answersPrefix):
		return s.answer(e)
	case strings.HasPrefix(e.Key, cadencesPrefix):
		class := reminder.Class(strings.TrimPrefix(e.Key, cadencesPrefix))
		delete(s.cadences, class)
		if !e.Deleted {
			_, c, err := parseCadence(e.Value)
			if err != nil {
				return err
			}
			s.cadences[class] = c
		}
	case strings.HasPrefix(e.Key, epochsPrefix):
		person := strings.TrimPrefix(e.Key, epochsPrefix)
		delete(s.epochs, person)
		if !e.Deleted {
			var p reminderv1.LinkEpoch
			if err := proto.Unmarshal(e.Value, &p); err != nil {
				return fmt.Errorf("read the number of a person's links: %w", err)
			}
			s.epochs[person] = int(p.GetEpoch())
		}
	}
	return nil
}

func (s *said) answer(e projection.Event) error {
	if old, ok := s.answers[e.Key]; ok {
		delete(s.answers, e.Key)
		s.of[old.Serial] = slices.DeleteFunc(s.of[old.Serial], func(key string) bool { return key == e.Key })
	}
	if e.Deleted {
		return nil
	}
	k, err := parseAnswer(e.Value, e.ModRevision)
	if err != nil {
		return err
	}
	if k.Withdrawn.IsZero() {
		s.answers[e.Key] = k.Answer
		s.of[k.Serial] = append(s.of[k.Serial], e.Key)
	}
	return nil
}

func (s *said) known(yield func(string, int64) bool) {
	for key := range s.answers {
		if !yield(key, 0) {
			return
		}
	}
	for class := range s.cadences {
		if !yield(cadencesPrefix+string(class), 0) {
			return
		}
	}
	for person := range s.epochs {
		if !yield(epochsPrefix+person, 0) {
			return
		}
	}
}

// Answers gives the answers about a vehicle that hold, the oldest first.
func (s *Store) Answers(serial vehicle.Serial) []reminder.Answer {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	var out []reminder.Answer
	for _, key := range s.state.said.of[serial] {
		out = append(out, s.state.said.answers[key])
	}
	slices.SortFunc(out, byTime)
	return out
}

// Cadences gives the cadences that somebody changed.
func (s *Store) Cadences() reminder.Cadences {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	out := reminder.Cadences{}
	for class, c := range s.state.said.cadences {
		out[class] = c
	}
	return out
}

// Epoch gives the number that links to a person carry from now on.
func (s *Store) Epoch(person string) int {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	return s.state.said.epochs[person]
}

func parseAnswer(value []byte, revision int64) (KeptAnswer, error) {
	var p reminderv1.KeptAnswer
	if err := proto.Unmarshal(value, &p); err != nil {
		return KeptAnswer{}, fmt.Errorf("read an answer: %w", err)
	}
	a, err := reminderwire.KeptAnswer(&p)
	if err != nil {
		return KeptAnswer{}, fmt.Errorf("read answer %s: %w", p.GetAnswer().GetName(), err)
	}
	return KeptAnswer{a, revision}, nil
}

func parseCadence(value []byte) (reminder.Class, reminder.Cadence, error) {
	var p reminderv1.Cadence
	if err := proto.Unmarshal(value, &p); err != nil {
		return "", reminder.Cadence{}, fmt.Errorf("read a cadence: %w", err)
	}
	return reminderwire.Cadence(&p)
}
