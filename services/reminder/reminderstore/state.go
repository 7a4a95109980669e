package reminderstore

import (
	"cmp"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"google.golang.org/protobuf/proto"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/projection"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
)

// state is what a pass asks for at every vehicle, projected: the claims, the
// opt-outs, and the notices that are still to be sent. Finished notices and
// tasks are read from etcd when somebody asks.
type state struct {
	mu      sync.RWMutex
	claims  map[vehicle.Serial]map[string]claim           // by key
	told    map[string]map[vehicle.Serial]bool            // by person: the vehicles that they have claims of, or had
	optOuts map[vehicle.Serial]map[string]reminder.OptOut // by what follows the serial in the key
	sent    map[string]map[string]time.Time               // by person: when service notices of late went out, by key
	open    map[string]Kept                               // by key
	parked  map[string]bool                               // by key
	astray  map[string]Kept                               // handbooks that failed where another way was left, by key
	letters map[vehicle.Serial]map[string]bool            // keys of claims about campaigns: of letters, and of tasks to find an owner
	said    said
	asked   chan struct{} // see Store.Asked
}

// claim is a claim with what its notice is for.
type claim struct {
	reminder.Claim
	purpose reminder.Purpose
}

func newState() *state {
	return &state{
		claims:  map[vehicle.Serial]map[string]claim{},
		told:    map[string]map[vehicle.Serial]bool{},
		optOuts: map[vehicle.Serial]map[string]reminder.OptOut{},
		sent:    map[string]map[string]time.Time{},
		open:    map[string]Kept{},
		parked:  map[string]bool{},
		astray:  map[string]Kept{},
		letters: map[vehicle.Serial]map[string]bool{},
		said:    newSaid(),
		asked:   make(chan struct{}, 1),
	}
}

// Apply implements projection.Handler.
func (s *state) Apply(events []projection.Event, _ int64) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, e := range events {
		var err error
		switch {
		case strings.HasPrefix(e.Key, claimsPrefix):
			err = s.claim(e)
		case strings.HasPrefix(e.Key, optOutsPrefix):
			s.optOut(e)
		case strings.HasPrefix(e.Key, noticesPrefix):
			err = s.notice(e)
		default:
			err = s.said.apply(e)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// Known implements projection.Handler. Revisions are not kept, so a relist
// brings everything again; a finished notice is not kept at all.
func (s *state) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		s.mu.RLock()
		defer s.mu.RUnlock()
		for _, claims := range s.claims {
			for key := range claims {
				if !yield(key, 0) {
					return
				}
			}
		}
		for serial, optOuts := range s.optOuts {
			for rest := range optOuts {
				if !yield(optOutsPrefix+string(serial)+"/"+rest, 0) {
					return
				}
			}
		}
		for key := range s.open {
			if !yield(key, 0) {
				return
			}
		}
		for key := range s.astray {
			if !yield(key, 0) {
				return
			}
		}
		for key := range s.parked {
			if !yield(key, 0) {
				return
			}
		}
		s.said.known(yield)
	}
}

func (s *state) claim(e projection.Event) error {
	serial, parsed, ok := parseClaim(e.Key)
	if !ok {
		return fmt.Errorf("a claim's key cannot be read")
	}
	if e.Deleted {
		delete(s.claims[serial], e.Key)
		delete(s.letters[serial], e.Key)
		return nil
	}
	c := claim{Claim: parsed}
	if err := c.read(e.Value); err != nil {
		return fmt.Errorf("read a claim of %s: %w", serial, err)
	}
	if s.claims[serial] == nil {
		s.claims[serial] = map[string]claim{}
	}
	s.claims[serial][e.Key] = c
	if c.purpose == reminder.Safety || c.Task == reminder.FindOwner {
		if s.letters[serial] == nil {
			s.letters[serial] = map[string]bool{}
		}
		s.letters[serial][e.Key] = true
	}
	if c.Person != "" {
		if s.told[c.Person] == nil {
			s.told[c.Person] = map[vehicle.Serial]bool{}
		}
		s.told[c.Person][serial] = true
	}
	return nil
}

// read takes in a claim's value.
func (c *claim) read(value []byte) error {
	if c.Task != "" {
		var task reminderv1.Task
		err := proto.Unmarshal(value, &task)
		c.Time = task.GetCreateTime().AsTime()
		return err
	}
	var notice reminderv1.Notice
	if err := proto.Unmarshal(value, &notice); err != nil {
		return err
	}
	c.Time, c.Notice = notice.GetClaimTime().AsTime(), strings.TrimPrefix(notice.GetName(), "notices/")
	c.Failed = notice.GetState() == reminderwire.StateProto(reminder.Rerouted)
	var err error
	c.purpose, err = reminderwire.Purpose("purpose", notice.GetPurpose())
	return err
}

func (s *state) optOut(e projection.Event) {
	head, rest, _ := strings.Cut(strings.TrimPrefix(e.Key, optOutsPrefix), "/")
	serial := vehicle.Serial(head)
	if e.Deleted {
		delete(s.optOuts[serial], rest)
		return
	}
	o, ok := reminder.ParseOptOut(head + "." + strings.ReplaceAll(rest, "/", "."))
	if !ok {
		return // of a purpose that this program does not know
	}
	if s.optOuts[serial] == nil {
		s.optOuts[serial] = map[string]reminder.OptOut{}
	}
	s.optOuts[serial][rest] = o
}

func (s *state) notice(e projection.Event) error {
	delete(s.open, e.Key)
	delete(s.parked, e.Key)
	delete(s.astray, e.Key)
	if e.Deleted {
		return nil
	}
	k, err := parseNotice(e.Value, e.ModRevision)
	if err != nil {
		return err
	}
	switch {
	case k.Open():
		s.open[e.Key] = k
		if k.Purpose.Once() && k.State == reminder.Claimed && k.Channel != reminder.Letter {
			select {
			case s.asked <- struct{}{}:
			default: // somebody is on the way already
			}
		}
	case k.State == reminder.Parked:
		s.parked[e.Key] = true
	case k.State == reminder.Rerouted && k.Purpose == reminder.Handbook:
		s.astray[e.Key] = k
	}
	out := k.Sent
	if out.IsZero() {
		out = k.Printed
	}
	if k.Purpose == reminder.Service && !out.IsZero() {
		s.wentOut(k.Person, e.Key, out)
	}
	return nil
}

// sentFor is how long it is remembered when a notice went out: somewhat longer
// than anybody asks for, see Recent.
const sentFor = 60 * 24 * time.Hour

// wentOut keeps when a notice to a person went out, and forgets the old ones.
func (s *state) wentOut(person, key string, at time.Time) {
	if s.sent[person] == nil {
		s.sent[person] = map[string]time.Time{}
	}
	s.sent[person][key] = at
	last := slices.MaxFunc(slices.Collect(maps.Values(s.sent[person])), time.Time.Compare)
	maps.DeleteFunc(s.sent[person], func(_ string, old time.Time) bool { return last.Sub(old) > sentFor })
}

// Kept is a notice with the revision it was last written at.
type Kept struct {
	reminder.Notice
	Revision int64
}

func parseNotice(value []byte, revision int64) (Kept, error) {
	var p reminderv1.Notice
	if err := proto.Unmarshal(value, &p); err != nil {
		return Kept{}, fmt.Errorf("read a notice: %w", err)
	}
	n, err := reminderwire.Notice(&p)
	if err != nil {
		return Kept{}, fmt.Errorf("read notice %s: %w", p.GetName(), err)
	}
	return Kept{n, revision}, nil
}

// Claims gives what was told of a vehicle, in order of keys.
func (s *Store) Claims(serial vehicle.Serial) []reminder.Claim {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	claims := s.state.claims[serial]
	out := make([]reminder.Claim, 0, len(claims))
	for _, key := range slices.Sorted(maps.Keys(claims)) {
		out = append(out, s.state.claimed(serial, claims[key].Claim))
	}
	return out
}

// claimed gives a claim with where its notice stands; none for one that is
// finished.
func (s *state) claimed(serial vehicle.Serial, c reminder.Claim) reminder.Claim {
	of := noticeKey(serial, c.Notice)
	switch open, isOpen := s.open[of]; {
	case isOpen:
		c.State = open.State
	case s.parked[of]:
		c.State = reminder.Parked
	}
	return c
}

// CampaignClaims gives what was told about campaigns, by vehicle in order of
// keys: letters to people, and tasks to find an owner.
func (s *Store) CampaignClaims() map[vehicle.Serial][]reminder.Claim {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	out := make(map[vehicle.Serial][]reminder.Claim, len(s.state.letters))
	for serial, keys := range s.state.letters {
		for _, key := range slices.Sorted(maps.Keys(keys)) {
			out[serial] = append(out[serial], s.state.claimed(serial, s.state.claims[serial][key].Claim))
		}
	}
	return out
}

// LastTold gives when somebody was last told about each vehicle; nothing for
// one of which nobody was.
func (s *Store) LastTold(of []reminder.Vehicle) map[vehicle.Serial]time.Time {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	last := map[vehicle.Serial]time.Time{}
	for _, v := range of {
		for _, c := range s.state.claims[v.Serial] {
			if c.Task == "" && c.Time.After(last[v.Serial]) {
				last[v.Serial] = c.Time
			}
		}
	}
	return last
}

// Recent gives when each service notice to a person went out after a moment,
// over all vehicles, in order of time: when it was sent or printed, now for one
// that is still to be sent, and for one that never was the time of its claim.
// Those that failed, and were told another way, are left out. after is at most 60
// days before now.
func (s *Store) Recent(person string, after, now time.Time) []time.Time {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	notices := map[string]time.Time{}
	for serial := range s.state.told[person] {
		for _, c := range s.state.claims[serial] {
			if c.Person != person || c.purpose != reminder.Service || c.Failed {
				continue
			}
			at, key := c.Time, noticeKey(serial, c.Notice)
			if sent := s.state.sent[person][key]; sent.After(at) {
				at = sent
			}
			if _, open := s.state.open[key]; open {
				at = now
			}
			if at.After(after) {
				notices[key] = at
			}
		}
	}
	return slices.SortedFunc(maps.Values(notices), time.Time.Compare)
}

// OptedOutOf gives the people who want nothing about a vehicle for a purpose.
func (s *Store) OptedOutOf(serial vehicle.Serial, purpose reminder.Purpose) map[string]bool {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	people := map[string]bool{}
	for _, o := range s.state.optOuts[serial] {
		if o.Purpose == purpose {
			people[o.Person] = true
		}
	}
	return people
}

// Unfinished gives the notices still to be sent, the oldest first.
func (s *Store) Unfinished() []Kept {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	return slices.SortedFunc(maps.Values(s.state.open), func(a, b Kept) int {
		return cmp.Or(a.Claimed.Compare(b.Claimed), cmp.Compare(a.ID, b.ID))
	})
}
