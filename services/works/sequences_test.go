package works_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/vehicle"
	"halfshaft/services/works"
)

// toldModel is a dumb model of who sees what: it looks everything up anew in lists
// that only grow.
type toldModel struct {
	ties        []modelTie
	assignments []modelAssignment
	closed      map[string]bool // organisations
	dead        map[string]bool // callers whose key was revoked
}

type modelTie struct {
	serial, who string
	start, end  vehicle.Date // end no longer counts; zero while it lasts
}

type modelAssignment struct {
	name, serial, organisation, consent string // consent: who gave it, empty for another ground
	start, last                         vehicle.Date
	ended                               bool
}

func (m *toldModel) owns(who, serial string, on vehicle.Date) bool {
	for _, t := range m.ties {
		if t.who == who && t.serial == serial && !on.Before(t.start) && (t.end.IsZero() || on.Before(t.end)) {
			return true
		}
	}
	return false
}

func (m *toldModel) ownerOf(serial string, on vehicle.Date) string {
	for _, t := range m.ties {
		if t.serial == serial && m.owns(t.who, serial, on) {
			return t.who
		}
	}
	return ""
}

// sees says what comes of a question of a caller about a vehicle.
func (m *toldModel) sees(caller, serial string, on vehicle.Date) codes.Code {
	if m.dead[caller] || m.closed[caller] {
		return codes.Unauthenticated
	}
	if m.owns(caller, serial, on) {
		return codes.OK
	}
	for _, a := range m.assignments {
		if a.organisation == caller && a.serial == serial && !a.ended && !on.Before(a.start) && !on.After(a.last) &&
			(a.consent == "" || m.owns(a.consent, serial, on)) {
			return codes.OK
		}
	}
	return codes.NotFound
}

// sequence is a works that changes at random, beside its model.
type sequence struct {
	*world
	toldModel
	t       *testing.T
	random  *rand.Rand
	cars    []string
	people  []string // as callers
	dealers []string
	said    []string // what happened, for a failure
	cells   int
	refused int
}

// TestRandomSequencesOfChangesAgainstADumbModel lets vehicles change hands,
// dealers be let in and shut out, keys be made and revoked, organisations be
// closed, people be erased and days pass, and after each change asks for every
// vehicle as everybody.
func TestRandomSequencesOfChangesAgainstADumbModel(t *testing.T) {
	racetest.Skip(t, "its calls follow each other")
	const sequences = 40
	randomSequences(t, rand.NewPCG(6, uint64(sequences)), sequences)
}

// randomSequences lets so many sequences of changes happen in one works.
func randomSequences(t *testing.T, seed rand.Source, sequences int) {
	const steps = 8
	s := newSequence(t, rand.New(seed))
	begin := time.Now()
	for range sequences {
		s.said = s.said[max(0, len(s.said)-4):]
		for range steps {
			s.step()
			s.look()
		}
		if t.Failed() {
			t.Fatalf("after:\n%v", s.said)
		}
	}
	t.Logf("%d sequences of %d changes, %d questions, %d changes refused, in %.1f s", sequences, steps, s.cells, s.refused, time.Since(begin).Seconds())
	if s.refused*2 > sequences*steps {
		t.Errorf("%d of %d changes were refused: the sequences show little", s.refused, sequences*steps)
	}
}

func newSequence(t *testing.T, random *rand.Rand) *sequence {
	s := &sequence{world: newWorld(t, works.Config{CallLimits: unlimited}), t: t, random: random,
		toldModel: toldModel{closed: map[string]bool{}, dead: map[string]bool{}}}
	for i := range 3 {
		s.newcomer(fmt.Sprintf("person%d", i))
	}
	for i := range 2 {
		id := fmt.Sprintf("garage%d", i)
		got(s.as("administrator").Access.CreateOrganisation(s.ctx, &accessv1.CreateOrganisationRequest{RequestId: uuid.NewString(),
			Organisation: &accessv1.Organisation{Name: "organisations/" + id, Title: id}}))(t)
		s.key(id, &accessv1.Key{Role: accessv1.Role_ROLE_DEALER, Organisation: "organisations/" + id})
		s.dealers = append(s.dealers, id)
	}
	for i := range 4 {
		s.cars = append(s.cars, s.built(fmt.Sprint("V", i), fmt.Sprintf("AM031%d", i)))
	}
	return s
}

func (s *sequence) today() vehicle.Date { return vehicle.DateOf(s.clock.Now().UTC()) }

func (s *sequence) newcomer(who string) {
	s.person(who)
	s.people = append(s.people, who)
}

func (s *sequence) pick(from []string) string { return from[s.random.IntN(len(from))] }

// step changes one thing. What is refused changes nothing, in the model neither.
func (s *sequence) step() {
	kinds := []struct {
		often int
		name  string
		do    func() error
	}{
		{6, "a transfer", s.transfer}, {5, "an assignment by the works", s.assign}, {5, "a consent", s.consent}, {4, "an end", s.end},
		{4, "a day", s.pass}, {2, "a key", s.renewKey}, {2, "an organisation", s.shut}, {1, "an erasure", s.erase},
	}
	total := 0
	for _, k := range kinds {
		total += k.often
	}
	n := s.random.IntN(total)
	for _, k := range kinds {
		if n -= k.often; n >= 0 {
			continue
		}
		err := k.do()
		s.said = append(s.said, fmt.Sprintf("%s: %s: %v", s.today(), k.name, err))
		switch status.Code(err) {
		case codes.OK:
		case codes.InvalidArgument, codes.FailedPrecondition, codes.NotFound, codes.Unauthenticated, codes.AlreadyExists, codes.PermissionDenied:
			s.refused++
		default:
			s.t.Errorf("%s: %v", k.name, err)
		}
		return
	}
}

func (s *sequence) transfer() error {
	serial, to, on := s.pick(s.cars), s.pick(s.people), s.today()
	owners, v := s.as("support").Owners, "vehicles/"+serial
	from := s.ownerOf(serial, on)
	if from == to {
		return nil
	}
	var err error
	if from == "" {
		_, err = owners.CreateTie(s.ctx, &ownerv1.CreateTieRequest{Parent: v, RequestId: uuid.NewString(), Tie: &ownerv1.Tie{
			Person: s.world.people[to], Role: ownerv1.Role_ROLE_OWNER, StartDate: dayProto(on)}})
	} else {
		_, err = owners.RecordTransfer(s.ctx, &ownerv1.RecordTransferRequest{Parent: v, RequestId: uuid.NewString(),
			NewOwner: &ownerv1.Person{Name: s.world.people[to]}, TransferDate: dayProto(on), Evidence: "a letter"})
	}
	if err != nil {
		return err
	}
	s.endTies(func(t modelTie) bool { return t.serial == serial }, on)
	s.ties = append(s.ties, modelTie{serial: serial, who: to, start: on})
	return nil
}

func (s *sequence) endTies(which func(modelTie) bool, on vehicle.Date) {
	for i := range s.ties {
		if s.ties[i].end.IsZero() && which(s.ties[i]) {
			s.ties[i].end = on
		}
	}
}

func (s *sequence) assign() error {
	start := s.today().AddDays(s.random.IntN(3))
	a := &accessv1.Assignment{Ground: accessv1.AssignmentGround_ASSIGNMENT_GROUND_WORKS, StartDate: dayProto(start),
		LastDate: dayProto(start.AddDays(s.random.IntN(4)))}
	return s.let("support", s.pick(s.cars), s.pick(s.dealers), a)
}

// consent is an owner's, who may well name a vehicle that is not theirs.
func (s *sequence) consent() error {
	who, serial := s.pick(s.people), s.pick(s.cars)
	if owner := s.ownerOf(serial, s.today()); owner != "" && s.random.IntN(3) > 0 {
		who = owner
	}
	return s.let(who, serial, s.pick(s.dealers), &accessv1.Assignment{})
}

func (s *sequence) let(by, serial, organisation string, a *accessv1.Assignment) error {
	a.Organisation, a.Purpose = "organisations/"+organisation, "a service"
	may := by == "support" || s.sees(by, serial, s.today()) == codes.OK
	made, err := s.as(by).Access.CreateAssignment(s.ctx, &accessv1.CreateAssignmentRequest{Parent: "vehicles/" + serial, Assignment: a, RequestId: uuid.NewString()})
	if err == nil && !may {
		s.t.Errorf("%s let %s see %s, which is not theirs", by, organisation, serial)
	}
	if err != nil {
		return err
	}
	m := modelAssignment{name: made.GetName(), serial: serial, organisation: organisation, start: dateOf(made.GetStartDate()), last: dateOf(made.GetLastDate())}
	if by != "support" {
		m.consent = by
	}
	s.assignments = append(s.assignments, m)
	return nil
}

func dateOf(d *date.Date) vehicle.Date {
	return vehicle.Date{Year: int(d.GetYear()), Month: time.Month(d.GetMonth()), Day: int(d.GetDay())}
}

// end ends an assignment as somebody, who may have no right to.
func (s *sequence) end() error {
	if len(s.assignments) == 0 {
		return nil
	}
	a := &s.assignments[max(0, len(s.assignments)-1-s.random.IntN(min(len(s.assignments), 6)))]
	by := s.pick(slices.Concat([]string{"support", "support"}, s.people, s.dealers))
	may := by == "support" || s.sees(by, a.serial, s.today()) == codes.OK
	_, err := s.as(by).Access.EndAssignment(s.ctx, &accessv1.EndAssignmentRequest{Name: a.name, Complete: true, Reason: "done", RequestId: uuid.NewString()})
	if err == nil && !may {
		s.t.Errorf("%s ended %s", by, a.name)
	}
	a.ended = a.ended || err == nil
	return err
}

func (s *sequence) pass() error {
	s.clock.Move(time.Duration(1+s.random.IntN(40)) * time.Hour)
	return nil
}

// renewKey revokes somebody's key, or gives them another.
func (s *sequence) renewKey() error {
	who := s.pick(slices.Concat(s.people, s.dealers))
	if s.dead[who] {
		if s.closed[who] {
			return nil // it gets no key while it is closed
		}
		if slices.Contains(s.dealers, who) {
			s.key(who, &accessv1.Key{Role: accessv1.Role_ROLE_DEALER, Organisation: "organisations/" + who})
		} else {
			s.key(who, &accessv1.Key{Role: accessv1.Role_ROLE_OWNER, Person: s.world.people[who]})
		}
		s.dead[who] = false
		return nil
	}
	_, err := s.as("administrator").Access.RevokeKey(s.ctx, &accessv1.RevokeKeyRequest{Name: s.keyNames[who], RequestId: uuid.NewString()})
	if err == nil {
		s.dead[who] = true
	}
	return err
}

// shut closes an organisation, or opens it again.
func (s *sequence) shut() error {
	id, admin := s.pick(s.dealers), s.as("administrator").Access
	o, err := admin.GetOrganisation(s.ctx, &accessv1.GetOrganisationRequest{Name: "organisations/" + id})
	if err != nil {
		return err
	}
	_, err = admin.UpdateOrganisation(s.ctx, &accessv1.UpdateOrganisationRequest{Organisation: o, Closed: !s.closed[id], RequestId: uuid.NewString()})
	if err == nil {
		s.closed[id] = !s.closed[id]
	}
	return err
}

// erase erases somebody, in whose place another comes.
func (s *sequence) erase() error {
	i := s.random.IntN(len(s.people))
	who := s.people[i]
	p, err := s.as("administrator").Owners.GetPerson(s.ctx, &ownerv1.GetPersonRequest{Name: s.world.people[who]})
	if err != nil {
		return err
	}
	_, err = s.as("administrator").Owners.ErasePerson(s.ctx, &ownerv1.ErasePersonRequest{Name: p.GetName(), Etag: p.GetEtag(), Ground: "asked for", EndTies: true, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	s.endTies(func(t modelTie) bool { return t.who == who }, s.today())
	next := fmt.Sprintf("person%d", len(s.world.people))
	s.newcomer(next)
	s.people = slices.Delete(s.people, i, i+1)
	return nil
}

// look asks for every vehicle as everybody, each by one of several methods.
func (s *sequence) look() {
	on := s.today()
	for _, caller := range slices.Concat(s.people, s.dealers) {
		c := s.as(caller)
		for _, serial := range s.cars {
			name, err := s.ask(c, serial)
			s.cells++
			if want := s.sees(caller, serial, on); status.Code(err) != want {
				s.t.Errorf("%s: %s of %s as %s: got %v, want %v", on, name, serial, caller, err, want)
			}
		}
	}
}

func (s *sequence) ask(c works.Clients, serial string) (name string, err error) {
	switch s.random.IntN(5) {
	case 0:
		_, err = c.Builds.GetBuild(s.ctx, &buildv1.GetBuildRequest{Name: "builds/" + serial})
		return "GetBuild", err
	case 1:
		_, err = c.Schedules.ListReadings(s.ctx, &schedulev1.ListReadingsRequest{Parent: "vehicles/" + serial})
		return "ListReadings", err
	case 2:
		_, err = c.Parts.AnswerPart(s.ctx, &partsv1.AnswerPartRequest{Build: "builds/" + serial, Question: "oil filter"})
		return "AnswerPart", err
	case 3:
		_, err = c.Access.ListAssignments(s.ctx, &accessv1.ListAssignmentsRequest{Parent: "vehicles/" + serial})
		return "ListAssignments", err
	}
	_, err = c.Builds.GetConfiguration(s.ctx, &buildv1.GetConfigurationRequest{Name: "builds/" + serial})
	return "GetConfiguration", err
}
