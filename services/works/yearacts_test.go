package works_test

import (
	"crypto/sha256"
	"strconv"
	"strings"

	"github.com/google/uuid"
	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// chance gives a number below 100 that follows from the notice.
func (y *year) chance(n *reminderv1.Notice) int {
	sum := sha256.Sum256([]byte(y.known(n.GetName())))
	return (int(sum[0])<<8 + int(sum[1])) % 100
}

// react lets the recipient do one of the things that recipients do: have the
// work done, book it, put it off, do it themselves, or nothing.
func (y *year) react(n *reminderv1.Notice) {
	if n.GetPurpose() == ownerv1.Purpose_PURPOSE_YEAR_LETTER {
		return
	}
	serial := last(n.GetVehicle())
	var work []*reminderv1.NoticeLine
	for _, l := range n.GetLines() {
		if l.GetItemId() != "READ" {
			work = append(work, l)
		}
	}
	k := y.chance(n)
	switch {
	case len(work) == 0 && k < 70:
		y.on(y.day+1+k%5, func() { y.report(serial) })
	case len(work) == 0:
	case k < 45:
		y.on(y.day+3+k%20, func() { y.serve(serial, work, "Fell Side Motors") })
	case k < 55:
		y.on(y.day+1, func() { y.answer(n, work, reminderv1.AnswerKind_ANSWER_KIND_BOOKED, 20, "") })
		y.on(y.day+21, func() { y.serve(serial, work, "Harbour Road Garage") })
	case k < 62:
		y.on(y.day+1, func() { y.answer(n, work, reminderv1.AnswerKind_ANSWER_KIND_SNOOZED, 21, "") })
	case k < 68:
		y.on(y.day+2, func() {
			entry := y.serve(serial, work, "the owner")
			if entry == "" {
				return
			}
			y.answer(n, work, reminderv1.AnswerKind_ANSWER_KIND_DONE, 0, entry)
		})
	}
}

// serve records work done.
func (y *year) serve(serial string, work []*reminderv1.NoticeLine, by string) (entryName string) {
	entry := &schedulev1.ServiceEntry{ServiceDate: vehiclewire.DateProto(y.today()), DoneBy: by}
	var ids []string
	for _, l := range work {
		if !y.covered[serial+" "+l.GetCycle()].IsZero() {
			continue // done meanwhile
		}
		entry.Items, ids = append(entry.Items, &schedulev1.ItemDone{ItemId: l.GetItemId()}), append(ids, l.GetItemId())
		y.covered[serial+" "+l.GetCycle()] = y.clock.Now()
	}
	if len(ids) == 0 {
		return ""
	}
	made, err := y.c.Schedules.RecordService(y.ctx, &schedulev1.RecordServiceRequest{
		Parent: "vehicles/" + serial, ServiceEntry: entry, RequestId: uuid.NewString(),
	})
	y.must(err, "a service entry for %s", serial)
	y.say(serial, "", "work recorded, done by %s: %s", by, strings.Join(ids, ", "))
	return made.GetName()
}

// answer tells the works about work.
func (y *year) answer(n *reminderv1.Notice, work []*reminderv1.NoticeLine, kind reminderv1.AnswerKind, in int, entry string) {
	serial, person := last(n.GetVehicle()), last(n.GetPerson())
	at, _ := y.local(person)
	day := vehicle.DateOf(at).AddDays(in)
	a := &reminderv1.Answer{Kind: kind, AnswerDate: vehiclewire.DateProto(day), Person: n.GetPerson(), Notice: n.GetName(), ServiceEntry: entry}
	for _, l := range work {
		if y.covered[serial+" "+l.GetCycle()].IsZero() || entry != "" {
			a.Cycles = append(a.Cycles, l.GetCycle())
		}
	}
	if len(a.Cycles) == 0 {
		return // all of it was done meanwhile
	}
	_, err := y.c.Reminders.CreateAnswer(y.ctx, &reminderv1.CreateAnswerRequest{Parent: n.GetVehicle(), Answer: a, RequestId: uuid.NewString()})
	if !y.gone[serial+" "+person].IsZero() && err != nil {
		y.say(serial, "", "%s, who has nothing to do with it any more, is not heard", person)
		return
	}
	y.must(err, "the answer of %s about %s", person, serial)
	quiet := day
	if kind == reminderv1.AnswerKind_ANSWER_KIND_BOOKED {
		quiet = day.AddDays(7)
	}
	if kind != reminderv1.AnswerKind_ANSWER_KIND_DONE {
		for _, cycle := range a.Cycles {
			key := serial + " " + cycle
			y.silent[key] = append(y.silent[key], y.clock.Now(), quiet.Start(at.Location()))
		}
	}
	y.say(serial, "", "%s answers: %s %s", person, small(kind.String(), "ANSWER_KIND_"), day)
}

// report lets the owner tell what the dial shows: what the services expect.
func (y *year) report(serial string) {
	s, err := y.c.Schedules.GetSchedule(y.ctx, &schedulev1.GetScheduleRequest{Name: "vehicles/" + serial + "/schedule"})
	y.must(err, "the schedule of %s", serial)
	readings, err := page.All(func(token string) ([]*schedulev1.Reading, string, error) {
		r, err := y.c.Schedules.ListReadings(y.ctx, &schedulev1.ListReadingsRequest{Parent: "vehicles/" + serial, PageSize: 500, PageToken: token})
		return r.GetReadings(), r.GetNextPageToken(), err
	})
	y.must(err, "the readings of %s", serial)
	var newest *schedulev1.Reading
	for _, r := range readings {
		if r.GetState() == schedulev1.ReadingState_READING_STATE_COUNTED && proto.Equal(r.GetReadingDate(), s.GetPace().GetReadingDate()) {
			newest = r
		}
	}
	if newest == nil {
		return
	}
	unit := vehicle.Unit(newest.GetValue().GetEnteredUnit())
	driven := vehicle.Distance(s.GetPace().GetEstimatedDistance().GetMillimetres() - s.GetPace().GetLifeDistance().GetMillimetres())
	value := strconv.FormatInt((newest.GetValue().GetMillimetres()+int64(driven))/int64(unit.Distance()), 10)
	_, err = y.c.Schedules.RecordReading(y.ctx, &schedulev1.RecordReadingRequest{
		Parent: "vehicles/" + serial, RequestId: uuid.NewString(), Reading: &schedulev1.Reading{
			ReadingDate: vehiclewire.DateProto(y.today()), Source: schedulev1.ReadingSource_READING_SOURCE_OWNER,
			Value: &vehiclev1.Distance{EnteredValue: value, EnteredUnit: string(unit)},
		},
	})
	y.must(err, "a reading of %s", serial)
	y.say(serial, "", "the owner reports %s %s", value, unit)
}

// post prints the letters that wait and brings them to the post.
func (y *year) post() {
	r, err := y.c.Reminders.PrintLetters(y.ctx, &reminderv1.PrintLettersRequest{PageSize: 100})
	y.must(err, "the letters")
	if len(r.GetNotices()) == 0 {
		return
	}
	if !strings.HasPrefix(string(r.GetPdf()), "%PDF-") {
		y.t.Errorf("day %d: the letters are no PDF", y.day)
	}
	var names []string
	for _, n := range r.GetNotices() {
		names = append(names, n.GetName())
	}
	_, err = y.c.Reminders.MarkPosted(y.ctx, &reminderv1.MarkPostedRequest{Notices: names, RequestId: uuid.NewString()})
	y.must(err, "posting")
	for _, n := range r.GetNotices() {
		y.say(last(n.GetVehicle()), "", "the letter to %s is posted", last(n.GetPerson()))
	}
}

func (y *year) change(serial, id, what string, change func(*ownerv1.Person)) {
	delete(y.people, id)
	p := proto.CloneOf(y.person(id))
	change(p)
	_, err := y.c.Owners.UpdatePerson(y.ctx, &ownerv1.UpdatePersonRequest{Person: p, RequestId: uuid.NewString()})
	y.must(err, "%s", what)
	delete(y.people, id)
	y.say(serial, "", "%s: %s", id, what)
}

func (y *year) transferByCode(serial, from, to, name string) {
	offer, err := y.c.Owners.OfferTransfer(y.ctx, &ownerv1.OfferTransferRequest{Parent: "vehicles/" + serial, OfferedBy: "people/" + from, RequestId: uuid.NewString()})
	y.must(err, "an offer of %s", serial)
	taken, err := y.c.Owners.AcceptTransfer(y.ctx, &ownerv1.AcceptTransferRequest{
		Parent: "vehicles/" + serial, Code: offer.GetCode(), NewOwner: newcomer(name), RequestId: uuid.NewString(),
	})
	y.must(err, "taking %s over", serial)
	y.alias[last(taken.GetTransfer().GetNewOwner())] = to
	y.left(serial, from)
	y.say(serial, "", "%s takes it over from %s, by code", to, from)
}

func (y *year) transferByWorks(serial, from, to, name string) {
	done, err := y.c.Owners.RecordTransfer(y.ctx, &ownerv1.RecordTransferRequest{
		Parent: "vehicles/" + serial, NewOwner: newcomer(name), Evidence: "bill of sale, file 2026/114", RequestId: uuid.NewString(),
	})
	y.must(err, "a change of owner of %s", serial)
	y.alias[last(done.GetNewOwner())] = to
	y.left(serial, from)
	y.say(serial, "", "%s owns it, and %s no longer, by a bill of sale", to, from)
}

func newcomer(name string) *ownerv1.Person {
	return &ownerv1.Person{
		FullName: name, Email: strings.ToLower(strings.ReplaceAll(name, " ", ".")) + "@newcomers.example",
		Language: "en-GB", TimeZone: "Europe/London", PostalLines: []string{"7 Invented Row", "Fictionbury"},
	}
}

func (y *year) left(serial, person string) { y.gone[serial+" "+person] = y.clock.Now() }

func (y *year) optOut(serial, person string) {
	_, err := y.c.Reminders.CreateOptOut(y.ctx, &reminderv1.CreateOptOutRequest{RequestId: uuid.NewString(), OptOut: &reminderv1.OptOut{
		Vehicle: "vehicles/" + serial, Person: "people/" + person, Way: "page",
	}})
	y.must(err, "an opt-out")
	y.left(serial, person)
	y.say(serial, "", "%s wants no more service notices", person)
}

func (y *year) scrap(serial, owner string) {
	st, err := y.c.Owners.GetStanding(y.ctx, &ownerv1.GetStandingRequest{Name: "vehicles/" + serial + "/standing"})
	y.must(err, "a standing")
	_, err = y.c.Owners.UpdateStanding(y.ctx, &ownerv1.UpdateStandingRequest{RequestId: uuid.NewString(), Standing: &ownerv1.Standing{
		Name: st.GetName(), Etag: st.GetEtag(), State: ownerv1.StandingState_STANDING_STATE_SCRAPPED, SinceDate: vehiclewire.DateProto(y.today()), Note: "fell off a pier",
	}})
	y.must(err, "scrapping %s", serial)
	y.left(serial, owner)
	y.say(serial, "", "it is scrapped")
}

func (y *year) erase(serial, id string) {
	p := y.person(id)
	_, err := y.c.Owners.ErasePerson(y.ctx, &ownerv1.ErasePersonRequest{
		Name: "people/" + id, Etag: p.GetEtag(), Ground: "asked for in a letter", EndTies: true, RequestId: uuid.NewString(),
	})
	y.must(err, "erasing %s", id)
	delete(y.people, id)
	y.left(serial, id)
	y.say(serial, "", "%s is erased", id)
}
