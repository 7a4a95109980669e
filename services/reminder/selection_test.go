package reminder

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"halfshaft/services/vehicle"
)

var margaret = Recipient{Person: "p0031", Name: "Margaret Hale", Address: "margaret@harbour.example", Zone: zone("Europe/London")}

// item is an annual item whose round is named after its identifier.
func item(id, actBy string) Item {
	by := day(actBy)
	return Item{ID: id, Cycle: id + "." + by.AddMonths(-12).String(), Title: "Service " + id, ActBy: by, Began: by.AddMonths(-12)}
}

// claim says that a stage of an item was told to Margaret at noon of a day.
func claim(i Item, s Stage, on string) Claim {
	return Claim{Cycle: i.Cycle, Stage: s, Channel: Mail, Person: margaret.Person, Time: at(on + "T12:00:00Z")}
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
	for _, c := range []struct {
		name   string
		items  []Item
		claims []Claim
		now    string
		want   string
	}{
		{"nothing comes up", []Item{oil}, nil, "2027-03-20", ""},
		{"an item is told 30 days before", []Item{oil}, nil, "2027-04-01", "E01 early"},
		{"it is told once", []Item{oil}, []Claim{claim(oil, Early, "2027-04-01")}, "2027-04-20", ""},
		{"it is told again on its day", []Item{oil}, []Claim{claim(oil, Early, "2027-04-01")}, "2027-05-01", "E01 due"},
		{"but not within 14 days of the last time", []Item{oil}, []Claim{claim(oil, Early, "2027-04-18")}, "2027-05-01", ""},
		{"after 14 days it is", []Item{oil}, []Claim{claim(oil, Early, "2027-04-18")}, "2027-05-02", "E01 due"},
		{"it is told a last time 30 days after", []Item{oil}, []Claim{claim(oil, Due, "2027-05-01")}, "2027-05-31", "E01 overdue"},
		{"then never more", []Item{oil}, []Claim{claim(oil, Overdue, "2027-05-31")}, "2028-05-31", ""},
		{"first seen long overdue, it begins at the last notice", []Item{oil}, nil, "2030-01-01", "E01 overdue"},
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
		{"nothing is called overdue on its own day", []Item{oil, item("X", "2027-05-31")}, []Claim{claim(oil, Due, "2027-05-01")}, "2027-05-31", "E01 overdue, X due"},
		{"long overdue items make one message, not many", []Item{item("A", "2022-01-01"), item("B", "2023-06-01"), item("C", "2025-01-01")}, nil, "2027-05-01", "A overdue, B overdue, C overdue"},
		{"the furthest stage leads", []Item{item("A", "2027-06-01"), item("B", "2027-04-01"), item("C", "2027-05-03")}, nil, "2027-05-04", "B overdue, C due, A early"},
		{"a companion told lately is left out", []Item{oil, fluid}, []Claim{claim(fluid, Early, "2027-04-25"), claim(oil, Early, "2027-04-01")}, "2027-05-01", "E01 due"},
		{"an owner's own check goes with nothing", []Item{oil, {ID: "Z", Cycle: "Z.1", ActBy: day("2027-05-01"), OwnerCheck: true}}, nil, "2027-04-01", "E01 early"},
		{"what has nothing to do goes with nothing", []Item{oil, {ID: "Z", Cycle: "Z.1"}}, nil, "2027-04-01", "E01 early"},
	} {
		plan := Select(Case{Vehicle: Vehicle{Serial: "AM0147P", Items: c.items}, Receivers: []Recipient{margaret}, Claims: c.claims, Now: at(c.now + "T12:00:00Z")})
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
		Vehicle: Vehicle{Serial: "AM0147P", Items: []Item{item("E01", "2027-05-01")}}, Receivers: []Recipient{margaret}, Now: at("2027-05-01T03:00:00Z"),
	})
	if len(plan.Drafts) != 0 || len(plan.Held) != 1 {
		t.Errorf("got %d drafts and %d held, want one held", len(plan.Drafts), len(plan.Held))
	}
}

func TestTheDayIsTheRecipients(t *testing.T) {
	far := margaret
	far.Zone, far.Hours = zone("Pacific/Auckland"), Hours{0, 24}
	c := Case{Vehicle: Vehicle{Serial: "AM0147P", Items: []Item{item("E01", "2027-05-01")}}, Receivers: []Recipient{far}}
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
	c := Case{Vehicle: Vehicle{Serial: "AM0147P", Items: []Item{oil, hubs, item("X", "2028-01-01")}}, Nobody: true, Now: at("2027-04-05T03:00:00Z")}
	plan := Select(c)
	if len(plan.Tasks) != 1 || plan.Tasks[0].Kind != NoContact || !slices.Equal(plan.Tasks[0].Cycles, []string{oil.Cycle, hubs.Cycle}) {
		t.Fatalf("got %+v", plan.Tasks)
	}
	if want := "AM0147P." + oil.Cycle + ".no-contact"; plan.Tasks[0].ID() != want {
		t.Errorf("got %s, want %s", plan.Tasks[0].ID(), want)
	}
	c.Claims = []Claim{{Cycle: oil.Cycle, Task: NoContact}, {Cycle: hubs.Cycle, Task: NoContact}}
	if plan := Select(c); len(plan.Tasks) != 0 {
		t.Errorf("told twice: %+v", plan.Tasks)
	}
	c.Claims, c.NoAddress = nil, []string{"p0049"}
	if tasks := Select(c).Tasks; len(tasks) != 1 || !strings.Contains(tasks[0].Text, "telephone them") || !strings.Contains(tasks[0].Text, "people/p0049") {
		t.Errorf("somebody without an address is to be telephoned: %+v", tasks)
	}
	c.Claims, c.Nobody = nil, false
	if plan := Select(c); len(plan.Tasks) != 0 {
		t.Errorf("everybody opted out, and still a task: %+v", plan.Tasks)
	}
}

func TestTheWorksIsToldOfAnOwnerWhoStaysSilent(t *testing.T) {
	oil := item("E01", "2027-05-01")
	other := Recipient{Person: "p0032", Address: "other@harbour.example"}
	last := []Claim{claim(oil, Overdue, "2027-05-31")}
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
	} {
		plan := Select(Case{Vehicle: Vehicle{Serial: "AM0147P", Items: c.items}, Receivers: c.to, Claims: c.claims, Now: at(c.now + "T03:00:00Z")})
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
	plan := Select(Case{Vehicle: Vehicle{Serial: "AM0147P", Items: items}, Receivers: []Recipient{margaret}, Now: at("2027-05-01T12:00:00Z")})
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
	// printf 'halfshaft notice\nAM0147P.E01.2026-05-01.early.mail.p0031' | sha256sum
	if got, want := MessageID(d.NoticeID(1), "aldermoor.example"), "<a8aa00721808057130a8366c9376bc51@aldermoor.example>"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}
