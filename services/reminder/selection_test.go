package reminder

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"halfshaft/services/vehicle"
)

var margaret = Recipient{Person: "p0031", Name: "Margaret Hale", Address: "margaret@harbour.example", Ways: []Channel{Mail, Letter}, Role: "owner", Notices: true, Zone: zone("Europe/London")}

// item is an annual item whose round is named after its identifier.
func item(id, actBy string) Item {
	by := day(actBy)
	return Item{ID: id, Cycle: id + "." + by.AddMonths(-12).String(), Title: "Service " + id, ActBy: by, Began: by.AddMonths(-12)}
}

// claim says that a stage of an item was told to Margaret at noon of a day.
func claim(i Item, s Stage, on string) Claim {
	return Claim{Cycle: i.Cycle, Stage: s, Channel: Mail, Person: margaret.Person, Time: at(on + "T12:00:00Z")}
}

// failedBy says that a channel failed for a stage.
func failedBy(way Channel, i Item, s Stage, on string) Claim {
	c := claim(i, s, on)
	c.Channel, c.Failed = way, true
	return c
}

// told prints the lines of a draft: "E01 early, B03 due".
func toldText(d Draft) string {
	var words []string
	for _, l := range d.Lines {
		words = append(words, l.Item.ID+" "+l.Stage.String())
	}
	return strings.Join(words, ", ")
}

func TestWhatIsToldNow(t *testing.T) {
	oil, fluid, hubs := item("E01", "2027-05-01"), item("B03", "2027-05-20"), item("H01", "2027-07-15")
	read := Item{ID: "READ", Cycle: "READ.2026-05-01", ActBy: day("2027-04-01"), Reading: true}
	again := read
	again.Cycle = "READ.2026-10-28"
	brief := item("E01", "2027-05-01")
	brief.NoticeDays = 7
	tyres := item("W03", "2027-05-01")
	tyres.Class = Vital
	both := func(on string) []Claim { return []Claim{claim(oil, Early, on), claim(tyres, Early, on)} }
	for _, c := range []struct {
		name   string
		items  []Item
		claims []Claim
		now    string
		want   string
	}{
		{"what bears on safety is told again sooner, and the rest of the visit with it", []Item{oil, tyres}, both("2027-04-22"), "2027-05-01", "W03 due, E01 due"},
		{"but not within the days of either", []Item{oil, tyres}, both("2027-04-25"), "2027-05-01", ""},
		{"nothing comes up", []Item{oil}, nil, "2027-03-20", ""},
		{"an item is told 30 days before", []Item{oil}, nil, "2027-04-01", "E01 early"},
		{"it is told once", []Item{oil}, []Claim{claim(oil, Early, "2027-04-01")}, "2027-04-20", ""},
		{"it is told again on its day", []Item{oil}, []Claim{claim(oil, Early, "2027-04-01")}, "2027-05-01", "E01 due"},
		{"but not within 14 days of the last time", []Item{oil}, []Claim{claim(oil, Early, "2027-04-18")}, "2027-05-01", ""},
		{"after 14 days it is", []Item{oil}, []Claim{claim(oil, Early, "2027-04-18")}, "2027-05-02", "E01 due"},
		{"it is told a third time 30 days after", []Item{oil}, []Claim{claim(oil, Due, "2027-05-01")}, "2027-05-31", "E01 overdue"},
		{"and a last time 30 days after that", []Item{oil}, []Claim{claim(oil, Overdue, "2027-05-31")}, "2027-06-30", "E01 second-overdue"},
		{"not a day sooner", []Item{oil}, []Claim{claim(oil, Overdue, "2027-05-31")}, "2027-06-29", ""},
		{"counted from the notice, however late that was", []Item{oil}, []Claim{claim(oil, Overdue, "2027-07-10")}, "2027-08-08", ""},
		{"then never more", []Item{oil}, []Claim{claim(oil, SecondOverdue, "2027-06-30")}, "2028-05-31", ""},
		{"first seen long overdue, it begins at the overdue notice", []Item{oil}, nil, "2030-01-01", "E01 overdue"},
		{"another person's claims do not count", []Item{oil}, []Claim{{Cycle: oil.Cycle, Stage: Early, Channel: Mail, Person: "p9", Time: at("2027-04-01T12:00:00Z")}}, "2027-04-02", "E01 early"},
		{"nor does a task's", []Item{oil}, []Claim{{Cycle: oil.Cycle, Task: NoContact, Time: at("2027-04-01T12:00:00Z")}}, "2027-04-02", "E01 early"},
		{"a reading is asked for from its day on", []Item{read}, nil, "2027-04-01", "READ early"},
		{"and not before", []Item{read}, nil, "2027-03-31", ""},
		{"it is asked for once", []Item{read}, []Claim{claim(read, Early, "2027-04-01")}, "2028-01-01", ""},
		{"a new occasion to ask does not follow hard upon a request", []Item{again}, []Claim{claim(read, Early, "2027-04-01")}, "2027-06-30", ""},
		{"but a quarter after it", []Item{again}, []Claim{claim(read, Early, "2027-04-01")}, "2027-07-01", "READ early"},
		{"work whose notice is short does not go along with a request for a reading", []Item{read, brief}, nil, "2027-04-11", "READ early"},
		{"work leads the message that asks for a reading too", []Item{read, oil}, nil, "2027-05-01", "E01 due, READ early"},
		{"work that is not told yet does not go along with a request for a reading", []Item{read, fluid}, nil, "2027-04-11", "READ early"},
		{"a new round begins anew", []Item{oil}, []Claim{{Cycle: "E01.2025-05-01", Stage: Overdue, Channel: Mail, Person: margaret.Person}}, "2027-04-02", "E01 early"},
		{"what lies within 30 days goes with it", []Item{fluid, oil}, nil, "2027-04-01", "E01 early, B03 early"},
		{"what lies further off does not", []Item{oil, hubs}, nil, "2027-04-01", "E01 early"},
		{"a visit stays together when it is due", []Item{oil, fluid}, []Claim{claim(oil, Early, "2027-04-01"), claim(fluid, Early, "2027-04-01")}, "2027-05-01", "E01 due, B03 due"},
		{"and does not come back on the second item's day", []Item{oil, fluid}, []Claim{claim(oil, Due, "2027-05-01"), claim(fluid, Due, "2027-05-01")}, "2027-05-20", ""},
		{"overdue together, once both days have passed", []Item{oil, fluid}, []Claim{claim(oil, Due, "2027-05-01"), claim(fluid, Due, "2027-05-01")}, "2027-05-31", "E01 overdue, B03 overdue"},
		{"overdue a second time together", []Item{oil, fluid}, []Claim{claim(oil, Overdue, "2027-05-31"), claim(fluid, Overdue, "2027-05-31")}, "2027-06-30", "E01 second-overdue, B03 second-overdue"},
		{"but not what was not called overdue before", []Item{oil, fluid}, []Claim{claim(oil, Overdue, "2027-05-31"), claim(fluid, Due, "2027-05-31")}, "2027-06-30", "E01 second-overdue, B03 overdue"},
		{"nothing is called overdue on its own day", []Item{oil, item("X", "2027-05-31")}, []Claim{claim(oil, Due, "2027-05-01")}, "2027-05-31", "E01 overdue, X due"},
		{"long overdue items make one message, not many", []Item{item("A", "2022-01-01"), item("B", "2023-06-01"), item("C", "2025-01-01")}, nil, "2027-05-01", "A overdue, B overdue, C overdue"},
		{"the furthest stage leads", []Item{item("A", "2027-06-01"), item("B", "2027-04-01"), item("C", "2027-05-03")}, nil, "2027-05-04", "B overdue, C due, A early"},
		{"a companion told lately is left out", []Item{oil, fluid}, []Claim{claim(fluid, Early, "2027-04-25"), claim(oil, Early, "2027-04-01")}, "2027-05-01", "E01 due"},
		{"an owner's own check goes with nothing", []Item{oil, {ID: "Z", Cycle: "Z.1", ActBy: day("2027-05-01"), OwnerCheck: true}}, nil, "2027-04-01", "E01 early"},
		{"what has nothing to do goes with nothing", []Item{oil, {ID: "Z", Cycle: "Z.1"}}, nil, "2027-04-01", "E01 early"},
	} {
		plan := Select(Case{Vehicle: Vehicle{Serial: "AM0147P", Items: c.items}, People: []Recipient{margaret}, Claims: c.claims, Now: at(c.now + "T12:00:00Z")})
		got := ""
		if len(plan.Drafts) > 0 {
			got = toldText(plan.Drafts[0])
		}
		if got != c.want || len(plan.Drafts) > 1 || len(plan.Held) > 0 {
			t.Errorf("%s: got %q (%d drafts, %d held), want %q", c.name, got, len(plan.Drafts), len(plan.Held), c.want)
		}
	}
}

func TestOutsideTheHoursADraftIsHeldAndNotMade(t *testing.T) {
	plan := Select(Case{
		Vehicle: Vehicle{Serial: "AM0147P", Items: []Item{item("E01", "2027-05-01")}}, People: []Recipient{margaret}, Now: at("2027-05-01T03:00:00Z"),
	})
	if len(plan.Drafts) != 0 || len(plan.Held) != 1 {
		t.Errorf("got %d drafts and %d held, want one held", len(plan.Drafts), len(plan.Held))
	}
}

func TestTheDayIsTheRecipients(t *testing.T) {
	far := margaret
	far.Zone, far.Hours = zone("Pacific/Auckland"), Hours{0, 24}
	c := Case{Vehicle: Vehicle{Serial: "AM0147P", Items: []Item{item("E01", "2027-05-01")}}, People: []Recipient{far}}
	c.Claims = []Claim{claim(c.Vehicle.Items[0], Early, "2027-04-01")}
	// 30 April 13:00Z is 1 May 01:00 in Auckland.
	c.Now = at("2027-04-30T13:00:00Z")
	if plan := Select(c); len(plan.Drafts) != 1 || plan.Drafts[0].Stage != Due {
		t.Errorf("after midnight in Auckland: %v", plan.Drafts)
	}
	c.Now = at("2027-04-30T11:00:00Z")
	if plan := Select(c); len(plan.Drafts) != 0 {
		t.Errorf("before midnight in Auckland: %v", plan.Drafts)
	}
}

func TestTheWorksIsToldWhenNobodyElseCanBe(t *testing.T) {
	oil, hubs := item("E01", "2027-05-01"), item("H01", "2027-04-20")
	noAddress, dead, payer, heir := margaret, margaret, Recipient{Person: "p0032", Role: "payer", Notices: true, Ways: []Channel{Mail}}, margaret
	noAddress.Ways, dead.Deceased, heir.Person, heir.Role = nil, true, "p0077", "executor"
	out := map[string]bool{"p0031": true, "p0032": true}
	both := []string{oil.Cycle, hubs.Cycle}
	for _, c := range []struct {
		name   string
		c      Case
		cycles []string
		text   string
	}{
		{"nobody is tied to it", Case{}, both, "Find out who has the vehicle"},
		{"the works was told", Case{Claims: []Claim{{Cycle: oil.Cycle, Task: NoContact}, {Cycle: hubs.Cycle, Task: NoContact}}}, nil, ""},
		{"it was told of one of two", Case{Claims: []Claim{{Cycle: oil.Cycle, Task: NoContact}}}, []string{hubs.Cycle}, ""},
		{"somebody without an address is to be telephoned", Case{People: []Recipient{noAddress}}, both, "telephone them"},
		{"by their identifier", Case{People: []Recipient{noAddress}}, both, "people/p0031"},
		{"somebody is there", Case{People: []Recipient{margaret}}, nil, ""},
		{"everybody opted out: that silence is wanted", Case{People: []Recipient{margaret}, OptOuts: out}, nil, ""},
		{"the owner died", Case{People: []Recipient{dead}}, both, "find the executor"},
		{"the owner died and the payer wants no notices", Case{People: []Recipient{dead, payer}, OptOuts: out}, both, "find the executor"},
		{"the owner died and the payer is told", Case{People: []Recipient{dead, payer}}, nil, ""},
		{"the owner died and the executor is told", Case{People: []Recipient{dead, heir}}, nil, ""},
		{"the owner died and the executor wants no notices", Case{People: []Recipient{dead, heir}, OptOuts: map[string]bool{"p0077": true}}, nil, ""},
		{"nobody knows where it is", Case{Vehicle: Vehicle{LostTrack: true}}, nil, ""},
		{"it was scrapped", Case{Vehicle: Vehicle{Scrapped: true}}, nil, ""},
		{"it is said to be done", Case{Answers: []Answer{{Kind: Done, Cycles: both, Day: day("2027-04-01")}}}, nil, ""},
		{"it is laid up", Case{Vehicle: Vehicle{LayUpFrom: day("2027-04-01"), LayUpTo: day("2027-04-10")}}, nil, ""},
	} {
		c.c.Now = at("2027-04-05T03:00:00Z")
		c.c.Vehicle.Serial, c.c.Vehicle.Items = "AM0147P", []Item{oil, hubs, item("X", "2028-01-01")}
		tasks := Select(c.c).Tasks
		switch {
		case c.cycles == nil && len(tasks) > 0:
			t.Errorf("%s: got %+v, want none", c.name, tasks)
		case c.cycles == nil:
		case len(tasks) != 1 || tasks[0].Kind != NoContact || !slices.Equal(tasks[0].Cycles, c.cycles) || !strings.Contains(tasks[0].Text, c.text):
			t.Errorf("%s: got %+v, want %v and %q", c.name, tasks, c.cycles, c.text)
		case tasks[0].ID() != "AM0147P."+c.cycles[0]+".no-contact":
			t.Errorf("%s: got %s", c.name, tasks[0].ID())
		}
	}
}

func TestTheWorksIsToldOfAnOwnerWhoStaysSilent(t *testing.T) {
	oil := item("E01", "2027-05-01")
	other := Recipient{Person: "p0032", Address: "other@harbour.example", Ways: []Channel{Mail}, Notices: true}
	last := []Claim{claim(oil, Overdue, "2027-05-01"), claim(oil, SecondOverdue, "2027-05-31")}
	later := []Answer{{Kind: Booked, Cycles: []string{oil.Cycle}, Day: day("2027-07-10")}}
	for _, c := range []struct {
		days string
		want int
	}{{"2027-07-16", 0}, {"2027-07-17", 0}, {"2027-08-15", 0}, {"2027-08-16", 1}} {
		plan := Select(Case{Vehicle: Vehicle{Serial: "AM0147P", Items: []Item{oil}}, People: []Recipient{margaret}, Claims: last, Answers: later, Now: at(c.days + "T03:00:00Z")})
		if len(plan.Tasks) != c.want {
			t.Errorf("%s, booked for 10 July: got %+v, want %d", c.days, plan.Tasks, c.want)
		}
	}
	for _, c := range []struct {
		name   string
		items  []Item
		to     []Recipient
		claims []Claim
		now    string
		want   int
	}{
		{"29 days after the last notice not yet", []Item{oil}, []Recipient{margaret}, last, "2027-06-29", 0},
		{"30 days after it", []Item{oil}, []Recipient{margaret}, last, "2027-06-30", 1},
		{"also at night, for the works is told and not the owner", []Item{oil}, []Recipient{margaret}, last, "2027-07-30", 1},
		{"once", []Item{oil}, []Recipient{margaret}, append([]Claim{{Cycle: oil.Cycle, Task: OwnerSilent}}, last...), "2027-07-30", 0},
		{"not while a second person had no last notice", []Item{oil}, []Recipient{margaret, other}, last, "2027-07-30", 0},
		{"not when a lay-up moved the day", []Item{{ID: "E01", Cycle: oil.Cycle, ActBy: day("2027-10-01"), Began: oil.Began}}, []Recipient{margaret}, last, "2027-07-30", 0},
		{"not when it is done", nil, []Recipient{margaret}, last, "2027-07-30", 0},
		{"not after the overdue notice, where a second one is to come", []Item{oil}, []Recipient{margaret}, last[:1], "2027-07-30", 0},
		{"when the last notice cannot reach them by any way", []Item{oil}, []Recipient{margaret}, []Claim{claim(oil, Overdue, "2027-05-31"), failedBy(Mail, oil, SecondOverdue, "2027-06-30"), failedBy(Letter, oil, SecondOverdue, "2027-07-05")}, "2027-08-04", 1},
		{"not while another way is left", []Item{oil}, []Recipient{margaret}, []Claim{claim(oil, Overdue, "2027-05-31"), failedBy(Mail, oil, SecondOverdue, "2027-06-30")}, "2027-08-04", 0},
	} {
		plan := Select(Case{Vehicle: Vehicle{Serial: "AM0147P", Items: c.items}, People: c.to, Claims: c.claims, Now: at(c.now + "T03:00:00Z")})
		if len(plan.Tasks) != c.want {
			t.Errorf("%s: got %+v, want %d", c.name, plan.Tasks, c.want)
		}
	}
}

func TestADraftFitsOneTransaction(t *testing.T) {
	var items []Item
	for n := range 90 {
		items = append(items, item(fmt.Sprintf("N%02d", n), "2027-05-01"))
	}
	plan := Select(Case{Vehicle: Vehicle{Serial: "AM0147P", Items: items}, People: []Recipient{margaret}, Now: at("2027-05-01T12:00:00Z")})
	if n := len(plan.Drafts[0].Lines); n != mostLines {
		t.Errorf("got %d lines, want %d", n, mostLines)
	}
}

func TestNamesOfNotices(t *testing.T) {
	d := Draft{Vehicle: Vehicle{Serial: "AM0147P"}, To: margaret, Channel: Mail, Stage: Early, Lines: []Line{{Item: Item{Cycle: "E01.2026-05-01"}}}}
	if got, want := d.NoticeID(1), "AM0147P.E01.2026-05-01.early.mail.p0031"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	if got, want := d.NoticeID(2), "AM0147P.E01.2026-05-01.early.mail.p0031.2"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	if serial, ok := SerialOf(d.NoticeID(1)); !ok || serial != vehicle.Serial("AM0147P") {
		t.Errorf("got %s, %v", serial, ok)
	}
	if _, ok := SerialOf("AM0147Q.E01"); ok {
		t.Error("a wrong check character passed")
	}
	d.Stage = SecondOverdue
	if got, want := d.NoticeID(1), "AM0147P.E01.2026-05-01.second-overdue.mail.p0031"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	year := Draft{Vehicle: d.Vehicle, To: margaret, Channel: Letter, Stage: Early, Lines: []Line{{Item: YearItem(2026)}}, Purpose: YearLetter}
	if got, want := year.NoticeID(1), "AM0147P.YEAR.2026.year-letter-early.letter.p0031"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	d.Stage = Early
	// Python's hashlib and base64.b32encode over the same bytes
	if got, want := Reference(d.NoticeID(1)), "vvyrvwxpvc7dtcjmhluh5xkw2i"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	// printf 'halfshaft notice\nAM0147P.E01.2026-05-01.early.mail.p0031' | sha256sum
	if got, want := MessageID(d.NoticeID(1), "aldermoor.example"), "<a8aa00721808057130a8366c9376bc51@aldermoor.example>"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}
