package works_test

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"maps"
	"strings"
	"testing"

	"github.com/google/uuid"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/internal/handclock"
	"halfshaft/services/vehicle"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// world is a works beside which the matrix stands: some vehicles of people of
// our own, marked so that each word of them is found again, among those of the
// demo.
type world struct {
	t        *testing.T
	process  *works.Process
	clock    *handclock.Clock
	conn     *grpc.ClientConn
	done     *doneBook
	operator works.Clients
	ctx      context.Context

	people   map[string]string            // "owner" to "people/m-owner"
	serials  map[string]string            // "A" to its serial
	on       map[string]map[string]string // by vehicle: names of what was recorded on it
	keys     map[string]string            // secrets, by caller
	keyNames map[string]string            // and the names of those keys
	markers  map[string][]string          // by person: what must not come to anybody else
	contacts []string                     // names, addresses and numbers of all of them
}

// doneBook keeps which methods were answered well.
type doneBook struct {
	over grpc.ClientConnInterface
	of   map[string]bool
}

func (d *doneBook) Invoke(ctx context.Context, method string, in, out any, opts ...grpc.CallOption) error {
	err := d.over.Invoke(ctx, method, in, out, opts...)
	if err == nil {
		d.of[method] = true
	}
	return err
}

func (d *doneBook) NewStream(ctx context.Context, desc *grpc.StreamDesc, method string, opts ...grpc.CallOption) (grpc.ClientStream, error) {
	return d.over.NewStream(ctx, desc, method, opts...)
}

// as gives the clients of whoever holds a key.
func (w *world) as(caller string) works.Clients {
	over := &doneBook{accessgate.Present(w.conn, w.keys[caller]), w.done.of}
	return works.NewClients(func(string) grpc.ClientConnInterface { return over })
}

// got gives the answer of a call that has to work.
func got[M any](m M, err error) func(*testing.T) M {
	return func(t *testing.T) M {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
}

func dayProto(d vehicle.Date) *date.Date {
	return &date.Date{Year: int32(d.Year), Month: int32(d.Month), Day: int32(d.Day)}
}

func miles(n string) *vehiclev1.Distance {
	return &vehiclev1.Distance{EnteredValue: n, EnteredUnit: "mi"}
}

// newWorld fills a works.
func newWorld(t *testing.T, c works.Config) *world {
	t.Helper()
	w := &world{t: t, clock: atDemo(), done: &doneBook{of: map[string]bool{}}, people: map[string]string{}, serials: map[string]string{},
		on: map[string]map[string]string{}, keys: map[string]string{}, keyNames: map[string]string{}, markers: map[string][]string{}}
	c.Clock, c.Listen, c.Reflection = w.clock.Now, "127.0.0.1:0", true
	w.process, w.ctx, w.operator = startDemo(t, c)
	conn, err := works.Dial(w.process.Address().String(), nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	w.conn = conn
	w.keys["administrator"] = demoSecret(t)
	for _, role := range []accessv1.Role{accessv1.Role_ROLE_SUPPORT, accessv1.Role_ROLE_ENGINEER, accessv1.Role_ROLE_SERVICE} {
		name := strings.ToLower(strings.TrimPrefix(role.String(), "ROLE_"))
		w.key(name, &accessv1.Key{Role: role})
	}
	return w
}

// key makes a key.
func (w *world) key(caller string, k *accessv1.Key) *accessv1.Key {
	w.t.Helper()
	k.Title = "of " + caller
	if k.GetRole() != accessv1.Role_ROLE_OWNER { // records name an owner as owner
		k.Bearer = "bearer-" + caller
	}
	made := got(w.as("administrator").Access.CreateKey(w.ctx, &accessv1.CreateKeyRequest{Key: k, RequestId: uuid.NewString()}))(w.t)
	w.keys[caller], w.keyNames[caller] = made.GetSecret(), made.GetKey().GetName()
	return made.GetKey()
}

// person makes somebody, all of whose words are marked, with a key.
func (w *world) person(who string) string {
	w.t.Helper()
	n := 900 + len(w.people)
	p := &ownerv1.Person{
		Name: fmt.Sprintf("people/p9%03d", n), FullName: "Marked" + who + " Nightingale", Email: "marked." + who + "@post.example", Phone: fmt.Sprintf("+441632960%03d", n%1000),
		PostalLines: []string{"1 Marked" + who + " Lane", "Fictionbury FB1 1AA", "United Kingdom"}, Language: "en-GB", TimeZone: "Atlantic/Reykjavik",
	}
	p = got(w.as("support").Owners.CreatePerson(w.ctx, &ownerv1.CreatePersonRequest{Person: p, RequestId: uuid.NewString()}))(w.t)
	w.people[who] = p.GetName()
	contact := []string{p.GetFullName(), p.GetEmail(), p.GetPhone(), p.GetPostalLines()[0]}
	w.contacts = append(w.contacts, contact...)
	w.markers[who] = append(contact, p.GetName(), w.said(who))
	w.key(who, &accessv1.Key{Role: accessv1.Role_ROLE_OWNER, Person: p.GetName()})
	return p.GetName()
}

// said is what somebody says in their own words.
func (w *world) said(who string) string { return "own-words-of-" + who }

// serial is that of a body, with its check character.
func (w *world) serial(body string) string {
	w.t.Helper()
	s, err := vehicle.NewSerial(body)
	if err != nil {
		w.t.Fatal(err)
	}
	return string(s)
}

// built makes a vehicle like one of the demo's.
func (w *world) built(letter, body string) string {
	w.t.Helper()
	serial := w.serial(body)
	like := proto.CloneOf(got(w.as("engineer").Builds.GetBuild(w.ctx, &buildv1.GetBuildRequest{Name: "builds/AM0147P"}))(w.t))
	like.Name, like.FrameNumber, like.Plate, like.Etag, like.CreateTime = "builds/"+serial, "MX-"+body, "MX "+body[2:], "", nil
	like.KeyNumbers = []string{"KEY-OF-" + serial}
	for _, c := range like.GetComponents() {
		if c.GetSerial() != "" {
			c.Serial = "X" + body + c.GetSerial()
		}
	}
	got(w.as("engineer").Builds.CreateBuild(w.ctx, &buildv1.CreateBuildRequest{Build: like, RequestId: uuid.NewString()}))(w.t)
	w.serials[letter] = serial
	w.on[letter] = map[string]string{}
	return serial
}

// owned makes a vehicle that somebody owns, with all that can be on record of
// it, said by its owner and by the works.
func (w *world) owned(letter, body, who string) {
	w.t.Helper()
	serial := w.built(letter, body)
	v, t, rid := "vehicles/"+serial, w.t, uuid.NewString
	desk, today := w.as("support"), aldermoor.Today
	tie := got(desk.Owners.CreateTie(w.ctx, &ownerv1.CreateTieRequest{Parent: v, RequestId: rid(), Tie: &ownerv1.Tie{
		Person: w.people[who], Role: ownerv1.Role_ROLE_OWNER, Notices: true, StartDate: dayProto(today.AddDays(-30))}}))(t)
	got(desk.Schedules.RecordReading(w.ctx, &schedulev1.RecordReadingRequest{Parent: v, RequestId: rid(), Reading: &schedulev1.Reading{
		ReadingDate: dayProto(today.AddDays(-10)), Value: miles("21100"), Source: schedulev1.ReadingSource_READING_SOURCE_OWNER, Note: w.said(who)}}))(t)
	works := got(desk.Schedules.RecordService(w.ctx, &schedulev1.RecordServiceRequest{Parent: v, RequestId: rid(), ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: dayProto(today.AddDays(-5)), DoneBy: "Aldermoor Works", Items: []*schedulev1.ItemDone{{ItemId: "E01"}}}}))(t)
	optOut := got(desk.Reminders.CreateOptOut(w.ctx, &reminderv1.CreateOptOutRequest{RequestId: rid(), OptOut: &reminderv1.OptOut{Vehicle: v, Person: w.people[who], Way: "staff"}}))(t)
	maps.Copy(w.on[letter], map[string]string{"serial": serial, "tie": last(tie.GetName()), "works_entry": last(works.GetName()), "opt_out": last(optOut.GetName())})
	w.stated(letter, who, "21000")
	w.handbook(letter)
}

// stated has the owner of a vehicle say all that an owner can.
func (w *world) stated(letter, who, mi string) {
	w.t.Helper()
	t, rid, today, own := w.t, uuid.NewString, aldermoor.Today, w.as(who)
	v, person := "vehicles/"+w.serials[letter], w.people[who]
	picture := got(own.Owners.StoreDocument(w.ctx, &ownerv1.StoreDocumentRequest{Parent: person, Content: aPicture(t, len(w.done.of)), RequestId: rid(),
		Document: &ownerv1.Document{Vehicle: v, Title: w.said(who)}}))(t)
	reading := got(own.Schedules.RecordReading(w.ctx, &schedulev1.RecordReadingRequest{Parent: v, RequestId: rid(), Reading: &schedulev1.Reading{
		ReadingDate: dayProto(today.AddDays(-20)), Value: miles(mi), Note: w.said(who), Photograph: picture.GetName()}}))(t)
	entry := got(own.Schedules.RecordService(w.ctx, &schedulev1.RecordServiceRequest{Parent: v, RequestId: rid(), ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: dayProto(today.AddDays(-15)), DoneBy: w.said(who), Note: w.said(who), Items: []*schedulev1.ItemDone{{ItemId: "E01", Note: w.said(who)}}}}))(t)
	got(own.Schedules.RecordEvent(w.ctx, &schedulev1.RecordEventRequest{Parent: v, RequestId: rid(), Event: &schedulev1.Event{
		Kind: schedulev1.EventKind_EVENT_KIND_WADING, EventDate: dayProto(today.AddDays(-4)), Note: w.said(who)}}))(t)
	use := got(own.Schedules.DeclareUse(w.ctx, &schedulev1.DeclareUseRequest{Parent: v, RequestId: rid(), UseFact: &schedulev1.UseFact{
		Kind: schedulev1.UseKind_USE_KIND_DUST, StartDate: dayProto(today.AddDays(-3)), Note: w.said(who)}}))(t)
	got(own.Schedules.DeclareUse(w.ctx, &schedulev1.DeclareUseRequest{Parent: v, RequestId: rid(), UseFact: &schedulev1.UseFact{
		Kind: schedulev1.UseKind_USE_KIND_LAID_UP, StartDate: dayProto(today.AddDays(40)), EndDate: dayProto(today.AddDays(90)), Note: w.said(who)}}))(t)
	answer := got(own.Reminders.CreateAnswer(w.ctx, &reminderv1.CreateAnswerRequest{Parent: v, RequestId: rid(), Answer: &reminderv1.Answer{
		Person: person, Kind: reminderv1.AnswerKind_ANSWER_KIND_SNOOZED, Cycles: w.cycles(v), AnswerDate: dayProto(today.AddDays(20)), Note: w.said(who)}}))(t)
	got(own.Reminders.CreateCalendarFeed(w.ctx, &reminderv1.CreateCalendarFeedRequest{Parent: v, Person: person, RequestId: rid()}))(t)
	got(own.Owners.RecordConsent(w.ctx, &ownerv1.RecordConsentRequest{Parent: person, RequestId: rid(), Consent: &ownerv1.Consent{
		Purpose: ownerv1.Purpose_PURPOSE_SERVICE, Way: ownerv1.ContactWay_CONTACT_WAY_MAIL, Given: true, Wording: "you may", Language: "en-GB",
		Source: ownerv1.ConsentSource_CONSENT_SOURCE_PAGE}}))(t)
	got(w.as("support").JobSheets.CreateJobSheet(w.ctx, &jobsheetv1.CreateJobSheetRequest{Parent: v, ItemIds: []string{"E01"}, RequestId: rid()}))(t)
	asked := got(w.as("support").Enquiries.CreateEnquiry(w.ctx, &enquiryv1.CreateEnquiryRequest{Parent: v, RequestId: rid(), Enquiry: &enquiryv1.Enquiry{
		Channel: enquiryv1.EnquiryChannel_ENQUIRY_CHANNEL_TELEPHONE, AskerKind: enquiryv1.AskerKind_ASKER_KIND_OWNER, Person: person,
		Question: w.said(who), Symptom: "drip at the swivel"}, Answer: &enquiryv1.EnquiryAnswer{Text: "said to " + w.said(who)}}))(t)
	maps.Copy(w.on[letter], map[string]string{
		"person": person, "who": who, "document": last(picture.GetName()), "reading": last(reading.GetName()), "own_entry": last(entry.GetName()),
		"use": last(use.GetName()), "answer": last(answer.GetName()), "feed": last(person), "enquiry": last(asked.GetName()),
	})
}

// offered has the owner of a vehicle offer it to somebody.
func (w *world) offered(letter string) {
	w.t.Helper()
	v := w.on[letter]
	o := got(w.as(v["who"]).Owners.OfferTransfer(w.ctx, &ownerv1.OfferTransferRequest{Parent: "vehicles/" + v["serial"], OfferedBy: v["person"], RequestId: uuid.NewString()}))(w.t)
	v["transfer"] = last(o.GetTransfer().GetName())
}

// sold gives a vehicle to somebody else.
func (w *world) sold(letter, to string) {
	w.t.Helper()
	v := w.on[letter]
	got(w.as("support").Owners.RecordTransfer(w.ctx, &ownerv1.RecordTransferRequest{Parent: "vehicles/" + v["serial"], NewOwner: &ownerv1.Person{Name: w.people[to]},
		TransferDate: dayProto(aldermoor.Today), Evidence: "letter of both", RequestId: uuid.NewString()}))(w.t)
	w.stated(letter, to, "21050")
}

// assigned lets an organisation see a vehicle.
func (w *world) assigned(by, letter, organisation string, a *accessv1.Assignment) *accessv1.Assignment {
	w.t.Helper()
	a.Organisation, a.Purpose = "organisations/"+organisation, "the yearly service"
	made := got(w.as(by).Access.CreateAssignment(w.ctx, &accessv1.CreateAssignmentRequest{
		Parent: "vehicles/" + w.on[letter]["serial"], Assignment: a, RequestId: uuid.NewString()}))(w.t)
	w.on[letter]["assignment"] = last(made.GetName())
	return made
}

// cycles gives the rounds that are open on a vehicle.
func (w *world) cycles(v string) []string {
	s := got(w.as("support").Schedules.GetSchedule(w.ctx, &schedulev1.GetScheduleRequest{Name: v + "/schedule"}))(w.t)
	for _, it := range s.GetItems() {
		if it.GetCycle() != "" && it.GetState() != schedulev1.DueState_DUE_STATE_NOTHING_TO_DO {
			return []string{it.GetCycle()}
		}
	}
	w.t.Fatalf("%s has nothing that comes up", v)
	return nil
}

// aPicture draws one that no other is like.
func aPicture(t *testing.T, n int) []byte {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, 16, 16))
	for i := range 256 {
		m.Set(i%16, i/16, color.RGBA{uint8(i), uint8(n * 40), uint8(i * n), 255})
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// fleet is every serial that there is, of the demo and of ours.
func (w *world) fleet() map[string]bool {
	out := map[string]bool{}
	for _, b := range got(w.as("engineer").Builds.ListBuilds(w.ctx, &buildv1.ListBuildsRequest{PageSize: 500}))(w.t).GetBuilds() {
		out[last(b.GetName())] = true
	}
	return out
}
