package works_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/handclock"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// passHours are the hours, by UTC, at which passes run in this year: as few as
// meet everybody's hours, of which the shortest in the demo are three, by the
// clocks of its nine zones in summer and in winter. A works runs a pass every
// quarter of an hour.
func passHours(day time.Time) []int {
	if london, err := time.LoadLocation("Europe/London"); err == nil && day.In(london).IsDST() {
		return []int{0, 7, 16, 22}
	}
	return []int{0, 6, 12, 17, 22}
}

// days is how long the year is.
const days = 365

// year is a year of the demo fleet, lived through the real services: passes by
// a clock that is moved by hand, a real mail server, a real gateway, letters
// posted on Mondays, and people who do what people do. Who does what follows
// from the notices alone, so that every run is the same.
type year struct {
	t     *testing.T
	ctx   context.Context
	c     works.Clients
	clock *handclock.Clock
	mails *fickleServer
	texts *textGateway

	day    int
	begin  time.Time
	later  map[int][]func()           // by day: what somebody does then
	lines  map[string][]string        // transcript by serial
	people map[string]*ownerv1.Person // as last seen
	alias  map[string]string          // identifiers that are drawn anew in each run
	looked map[string]int             // mails looked at, by address

	covered map[string]time.Time   // by "serial cycle": when a service entry covered it
	silent  map[string][]time.Time // by "serial cycle": from when until when an answer silences it, in pairs
	gone    map[string]time.Time   // by "serial person": since when nothing goes to them about it
}

func TestAYearOfTheDemoFleet(t *testing.T) {
	racetest.Skip(t, "its passes follow each other, and single ones are watched in smtp_test.go")
	defer debug.SetGCPercent(debug.SetGCPercent(400)) // much is short-lived, and memory there is enough
	begin := time.Now()
	y := newYear(t)
	for y.day = range days {
		y.live()
		for _, hour := range passHours(y.begin.AddDate(0, 0, y.day)) {
			y.clock.Set(y.begin.AddDate(0, 0, y.day).Add(time.Duration(hour) * time.Hour))
			y.pass()
		}
	}
	notices := y.notices()
	y.invariants(notices)
	y.allExplained()
	y.transcripts(notices)
	t.Logf("%d days in %.0f s: %d notices, %d mails, %d text messages", days, time.Since(begin).Seconds(), len(notices), y.mailCount(), y.texts.count())
}

func newYear(t *testing.T) *year {
	begin := aldermoor.Today.Start(time.UTC)
	clock, mails, texts := handclock.At(begin), newFickleServer(t), newTextGateway(t)
	mails.behave(func(to string) behaviour {
		if strings.HasSuffix(to, ".invalid") {
			return neverAtRcpt
		}
		return takes
	})
	_, ctx, c := start(t, works.Config{
		Clock: clock.Now,
		Works: works.WorksConfig{
			Name: "Aldermoor Works", Telephone: "+44 1632 960100", Mail: "care@aldermoor.example", PublicURL: "https://care.aldermoor.example",
			Postal: []string{"1 Foundry Yard", "Fictionbury FB1 1AA"}, Letters: true,
		},
		Mail: works.MailConfig{Server: mails.address, From: "Aldermoor Works <care@aldermoor.example>", Security: "plain"},
		Text: works.TextConfig{Gateway: texts.server.URL, Secret: "whsec_" + strings.Repeat("QUJD", 8), Allow: []string{"127.0.0.1"}},
	})
	importFiles(t, ctx, c, demoFiles(t))
	y := &year{
		t: t, ctx: ctx, c: c, clock: clock, mails: mails, texts: texts, begin: begin,
		later: map[int][]func(){}, lines: map[string][]string{}, people: map[string]*ownerv1.Person{}, alias: map[string]string{}, looked: map[string]int{},
		covered: map[string]time.Time{}, silent: map[string][]time.Time{}, gone: map[string]time.Time{},
	}
	y.script()
	return y
}

// script is what happens beside what the notices bring about.
func (y *year) script() {
	y.on(10, func() { y.transferByCode("AM0101G", "p0001", "p0901", "Winifred Oldacre") })
	y.on(60, func() { y.optOut("AM01066", "p0006") })
	y.on(20, func() {
		y.change("AM0102E", "p0002", "the mail address is mistyped from now on", func(p *ownerv1.Person) { p.Email = "edwin@nobody.invalid" })
	})
	y.on(15, func() {
		y.change("AM01090", "p0009", "the owner dies", func(p *ownerv1.Person) { p.DeceasedDate = vehiclewire.DateProto(y.today().AddDays(-1)) })
		y.gone["AM01090 p0009"] = y.clock.Now()
	})
	y.on(140, func() { y.transferByWorks("AM0110E", "p0010", "p0902", "Osbert Nightingale") })
	y.on(170, func() { y.scrap("AM01058", "p0005") })
	y.on(200, func() { y.erase("AM0112A", "p0012") })
}

// on lets somebody do something on a day before its passes.
func (y *year) on(day int, do func()) { y.later[day] = append(y.later[day], do) }

// live is what people do on a day before the passes.
func (y *year) live() {
	y.clock.Set(y.begin.AddDate(0, 0, y.day))
	for n := 0; n < len(y.later[y.day]); n++ { // one may bring about another of the same day
		y.later[y.day][n]()
	}
	if y.day%7 == 0 {
		y.post()
	}
}

func (y *year) today() vehicle.Date { return vehicle.DateOf(y.clock.Now().UTC()) }

func (y *year) must(err error, what string, args ...any) {
	y.t.Helper()
	if err != nil {
		y.t.Fatalf("day %d: %s: %v", y.day, fmt.Sprintf(what, args...), err)
	}
}

// person gives somebody's record as it is; nil when there is none any more.
func (y *year) person(id string) *ownerv1.Person {
	if p, ok := y.people[id]; ok || id == "" {
		return p
	}
	p, err := y.c.Owners.GetPerson(y.ctx, &ownerv1.GetPersonRequest{Name: "people/" + id})
	if err != nil {
		p = nil
	}
	y.people[id] = p
	return p
}

// local gives the present by a person's clock, and its zone.
func (y *year) local(person string) (time.Time, string) {
	at := y.clock.Now().UTC()
	if zone := y.person(person).GetTimeZone(); zone != "" {
		l, err := time.LoadLocation(zone)
		y.must(err, "the zone %s", zone)
		return at.In(l), zone
	}
	return at, "UTC"
}

// say adds a line to a vehicle's transcript, by the clock of a person.
func (y *year) say(serial, person, format string, args ...any) {
	at, zone := y.local(person)
	y.lines[serial] = append(y.lines[serial], y.known(fmt.Sprintf("%s %s  %s", at.Format("2006-01-02 15:04"), zone, fmt.Sprintf(format, args...))))
}

// known puts the identifiers that every run gives for those that this one drew.
func (y *year) known(text string) string {
	for drawn, given := range y.alias {
		text = strings.ReplaceAll(text, drawn, given)
	}
	return text
}

// pass runs one pass, writes down what it told, and lets people react.
func (y *year) pass() {
	report, err := y.c.Reminders.RunPass(y.ctx, &reminderv1.RunPassRequest{})
	y.must(err, "a pass")
	for _, alarm := range report.GetAlarms() {
		y.t.Errorf("day %d: alarm: %s", y.day, alarm)
	}
	told := report.GetNotices()
	slices.SortFunc(told, func(a, b *reminderv1.Notice) int { return strings.Compare(a.GetName(), b.GetName()) })
	for _, n := range told {
		y.told(n)
		y.react(n)
	}
	y.ownMailsOnly()
}

// told writes a notice down, and looks whether it came at a good hour.
func (y *year) told(n *reminderv1.Notice) {
	serial, person := last(n.GetVehicle()), last(n.GetPerson())
	at, zone := y.local(person)
	from, until := int(y.person(person).GetContactFromHour()), int(y.person(person).GetContactUntilHour())
	if from == 0 && until == 0 {
		from, until = 9, 18
	}
	if n.GetChannel() != reminderv1.Channel_CHANNEL_LETTER && (at.Hour() < from || at.Hour() >= until) {
		y.t.Errorf("%s went out at %s in %s, and may between %d and %d", n.GetName(), at.Format("15:04"), zone, from, until)
	}
	var items []string
	for _, l := range n.GetLines() {
		day, err := vehiclewire.Date(l.GetActByDate())
		y.must(err, "a line's day")
		items = append(items, fmt.Sprintf("%s by %s", l.GetItemId(), day))
	}
	kind := small(n.GetStage().String(), "STAGE_")
	if n.GetPurpose() == ownerv1.Purpose_PURPOSE_YEAR_LETTER {
		kind = "the year's letter"
	}
	why := ""
	if sentence := n.GetLines()[0].GetSentence(); sentence != "" {
		why = " Why: " + sentence
	}
	y.say(serial, person, "%s by %s, %s: %s.%s", person, small(n.GetChannel().String(), "CHANNEL_"), kind, strings.Join(items, ", "), why)
}

func last(name string) string { return name[strings.LastIndexByte(name, '/')+1:] }

func small(text, prefix string) string {
	return strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(text, prefix), "_", " "))
}

// notices gives all of them.
func (y *year) notices() []*reminderv1.Notice {
	all, err := page.All(func(token string) ([]*reminderv1.Notice, string, error) {
		r, err := y.c.Reminders.ListNotices(y.ctx, &reminderv1.ListNoticesRequest{Parent: "vehicles/-", PageSize: 500, PageToken: token})
		return r.GetNotices(), r.GetNextPageToken(), err
	})
	y.must(err, "the notices")
	return all
}

func (y *year) mailCount() int {
	y.mails.mu.Lock()
	defer y.mails.mu.Unlock()
	n := 0
	for _, copies := range y.mails.taken {
		n += len(copies)
	}
	return n
}

// textGateway is a gateway that takes what it gets.
type textGateway struct {
	server *httptest.Server
	mu     sync.Mutex
	taken  map[string][]string // by number
}

func newTextGateway(t *testing.T) *textGateway {
	g := &textGateway{taken: map[string][]string{}}
	g.server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var m struct {
			Data struct{ To, Text string }
		}
		if err := json.NewDecoder(r.Body).Decode(&m); err != nil || m.Data.To == "" || r.Header.Get("webhook-signature") == "" {
			http.Error(w, "no message", http.StatusBadRequest)
			return
		}
		g.mu.Lock()
		defer g.mu.Unlock()
		g.taken[m.Data.To] = append(g.taken[m.Data.To], m.Data.Text)
	}))
	t.Cleanup(g.server.Close)
	return g
}

func (g *textGateway) count() int {
	g.mu.Lock()
	defer g.mu.Unlock()
	n := 0
	for _, texts := range g.taken {
		n += len(texts)
	}
	return n
}
