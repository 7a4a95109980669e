package reminder

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

// campaign is a letter about a campaign in its first round.
func campaign(letter int, on string) Item {
	return Item{
		ID: "C-2026-02", Cycle: CampaignCycle("C-2026-02", 1, letter), Title: "Steering relay", ActBy: day(on),
		Campaign: &Campaign{Round: 1, Letter: letter, StopUse: true},
	}
}

func TestNamesOfLetters(t *testing.T) {
	for _, c := range []struct {
		round, letter int
		want          string
	}{{1, 1, "C-2026-02.1"}, {1, 2, "C-2026-02.1-2"}, {2, 1, "C-2026-02.2"}, {12, 30, "C-2026-02.12-30"}} {
		if got := CampaignCycle("C-2026-02", c.round, c.letter); got != c.want {
			t.Errorf("got %s, want %s", got, c.want)
		}
	}
	d := Draft{Vehicle: Vehicle{Serial: "AM0147P"}, To: margaret, Channel: Letter, Stage: Due, Purpose: Safety, Lines: []Line{{campaign(2, "2027-04-01"), Due}}}
	if got, want := d.NoticeID(1), "AM0147P.C-2026-02.1-2.safety-due.letter.p0031"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestALetterIsKnownByItsName(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		round, letter := rapid.IntRange(1, 30).Draw(t, "round"), rapid.IntRange(1, 40).Draw(t, "letter")
		i := Item{ID: "C-1", Campaign: &Campaign{Round: rapid.IntRange(1, 30).Draw(t, "item's round")}}
		want := letter
		if i.Campaign.Round != round {
			want = 0
		}
		if got := i.letterOf(CampaignCycle("C-1", round, letter)); got != want {
			t.Fatalf("round %d letter %d is taken for %d of round %d", round, letter, got, i.Campaign.Round)
		}
		if got := i.letterOf(CampaignCycle("C-1-2", i.Campaign.Round, letter)); got != 0 {
			t.Fatalf("another campaign's is taken for %d", got)
		}
	})
	for _, cycle := range []string{"C-2026-02", "C-2026-02.1-", "C-2026-02.1-x", "C-2026-02.1-1", "C-2026-02.1.2", "E01.2026-05-01", "C-2026-02.1--2"} {
		if got := campaign(1, "2027-04-01").letterOf(cycle); got != 0 {
			t.Errorf("%s is taken for letter %d", cycle, got)
		}
	}
}

func TestWhoIsWrittenToAboutACampaign(t *testing.T) {
	silent := margaret
	silent.Ways, silent.Refused, silent.Notices, silent.Safety = nil, true, false, []Channel{Mail, Letter}
	telephone := margaret // nothing but a number, for which she never gave consent
	telephone.Ways, telephone.Safety = nil, []Channel{Text}
	dead, none := silent, margaret
	dead.Deceased = true
	wrote := func(letter int, by Channel, on string) Claim {
		return Claim{Cycle: CampaignCycle("C-2026-02", 1, letter), Stage: Due, Channel: by, Person: margaret.Person, Time: at(on + "T12:00:00Z")}
	}
	failed := wrote(1, Mail, "2027-04-01")
	failed.Failed = true
	told := func(claims ...Claim) func(*Case) { return func(c *Case) { c.Claims = claims } }
	letter := func(change func(*Campaign)) func(*Case) {
		return func(c *Case) { change(c.Vehicle.Items[0].Campaign) }
	}
	second := func(c *Case) { c.Vehicle.Items[0] = campaign(2, "2027-05-01") }
	for _, c := range []struct {
		name    string
		to      Recipient
		on      string
		changes []func(*Case)
		want    string // the way, or the reason; "task" for a task too
	}{
		{"somebody who wants nothing, agreed to nothing and has had enough", silent, "2027-04-01", []func(*Case){func(c *Case) {
			c.OptOuts = map[string]bool{margaret.Person: true}
			c.Recent = nil
		}}, "mail"},
		{"not before the day of the letter", silent, "2027-03-31", nil, NotYet},
		{"ten years later, when nobody did before", silent, "2037-04-01", nil, "mail"},
		{"once", silent, "2027-04-20", []func(*Case){told(wrote(1, Mail, "2027-04-01"))}, Told},
		{"by another way when the first failed", silent, "2027-04-02", []func(*Case){told(failed)}, "letter"},
		{"by text message without consent", telephone, "2027-04-01", nil, "text"},
		{"the second letter when its day has come", silent, "2027-05-01", []func(*Case){second, told(wrote(1, Mail, "2027-04-01"))}, "mail"},
		{"who comes late gets the second letter only", silent, "2027-05-01", []func(*Case){second}, "mail"},
		{"not on the heels of a first one that was late", silent, "2027-05-01", []func(*Case){second, told(wrote(1, Mail, "2027-04-28"))}, TooSoonAfter},
		{"a week after it", silent, "2027-05-05", []func(*Case){second, told(wrote(1, Mail, "2027-04-28"))}, "mail"},
		{"not again by an earlier letter", silent, "2027-05-09", []func(*Case){told(wrote(2, Mail, "2027-05-01"))}, Told},
		{"while a day is agreed", silent, "2027-04-20", []func(*Case){letter(func(i *Campaign) { i.Booked = day("2027-04-20") })}, IsBooked},
		{"when the day agreed has passed", silent, "2027-04-21", []func(*Case){letter(func(i *Campaign) { i.Booked = day("2027-04-20") })}, "mail"},
		{"who was told on the telephone", silent, "2027-04-20", []func(*Case){letter(func(i *Campaign) { i.Notified = day("2027-04-05") })}, Told},
		{"who was told of an earlier letter on the telephone", silent, "2027-05-01", []func(*Case){second, letter(func(i *Campaign) { i.Notified = day("2027-04-05") })}, "mail"},
		{"the next owner, whose forerunner was told on the telephone", func() Recipient { r := silent; r.Since = day("2027-04-06"); return r }(), "2027-04-20",
			[]func(*Case){letter(func(i *Campaign) { i.Notified = day("2027-04-05") })}, "mail"},
		{"while the vehicle is laid up", silent, "2027-04-20", []func(*Case){func(c *Case) { c.Vehicle.LayUpFrom = day("2027-01-01") }}, "mail"},
		{"while other work is put off", silent, "2027-04-20", []func(*Case){func(c *Case) {
			c.Answers = []Answer{{Kind: Snoozed, Day: day("2028-01-01"), Cycles: []string{"E01.1", "C-2026-02.1"}}}
		}}, "mail"},
		{"of a vehicle that was scrapped", silent, "2027-04-20", []func(*Case){func(c *Case) { c.Vehicle.Scrapped = true }}, Scrapped},
		{"who died", dead, "2027-04-20", nil, Deceased + " task"},
		{"who cannot be reached", none, "2027-04-20", nil, NoWay + " task"},
		{"who cannot be reached, of which the works knows", none, "2027-04-20", []func(*Case){told(Claim{Cycle: "C-2026-02.1", Task: NoContact})}, NoWay},
		{"who cannot be reached, though the works lost track before", none, "2027-04-20", []func(*Case){func(c *Case) { c.Vehicle.LostTrack = true }}, NoWay + " task"},
		{"who cannot be reached, while a day is agreed", none, "2027-04-20", []func(*Case){letter(func(i *Campaign) { i.Booked = day("2027-04-20") })}, IsBooked},
	} {
		cs := Case{Vehicle: Vehicle{Serial: "AM0147P", Items: []Item{campaign(1, "2027-04-01")}}, People: []Recipient{c.to}, Now: at(c.on + "T12:00:00Z")}
		for _, change := range c.changes {
			change(&cs)
		}
		plan := Select(cs)
		var got []string
		for _, d := range plan.Drafts {
			got = append(got, string(d.Channel))
		}
		for _, l := range plan.Lines {
			if len(plan.Drafts) == 0 {
				got = append(got, l.Reason)
			}
		}
		for range plan.Tasks {
			got = append(got, "task")
		}
		if text := strings.Join(got, " "); text != c.want {
			t.Errorf("%s: got %s, want %s: %+v", c.name, text, c.want, plan.Lines)
		}
	}
}

func TestNobodyIsThereToBeWrittenTo(t *testing.T) {
	plan := Select(Case{Vehicle: Vehicle{Serial: "AM0147P", LostTrack: true, Items: []Item{campaign(2, "2027-05-01"), item("E01", "2027-05-01")}}, Now: at("2027-05-01T12:00:00Z")})
	if len(plan.Tasks) != 1 || plan.Tasks[0].ID() != "AM0147P.C-2026-02.1-2.no-contact" || !strings.Contains(plan.Tasks[0].Text, "Steering relay (C-2026-02, letter 2 of 1 May 2027)") {
		t.Errorf("got %+v", plan.Tasks)
	}
	if len(plan.Lines) != 2 || plan.Lines[0].Reason != Nobody || !strings.Contains(plan.Lines[0].Sentence, "stays on its list") {
		t.Errorf("got %+v", plan.Lines)
	}
}

// TestEachCampaignHasAMessageOfItsOwn: two campaigns and a service make three
// messages, the one that forbids to drive first.
func TestEachCampaignHasAMessageOfItsOwn(t *testing.T) {
	to := margaret
	to.Safety = []Channel{Mail}
	first, stops := campaign(1, "2027-04-01"), campaign(1, "2027-04-02")
	first.Campaign.StopUse = false
	stops.ID, stops.Cycle = "C-2026-03", "C-2026-03.1"
	c := Case{
		Vehicle: Vehicle{Serial: "AM0147P", Items: []Item{item("E01", "2027-05-01"), first, stops}}, People: []Recipient{to}, Now: at("2027-05-01T12:00:00Z"),
		Claims: []Claim{
			{Cycle: "C-2026-03.2-4", Stage: Due, Channel: Mail, Person: to.Person, Time: at("2026-01-02T12:00:00Z")},
			{Cycle: "C-2026-03.2-5", Stage: Due, Channel: Mail, Person: to.Person, Time: at("2026-03-02T12:00:00Z"), State: Parked},
		},
	}
	plan := Select(c)
	var got []string
	for _, d := range plan.Drafts {
		got = append(got, toldText(d))
	}
	if want := []string{"C-2026-03 due", "C-2026-02 due", "E01 due"}; !slices.Equal(got, want) {
		t.Fatalf("got %q, want %q", got, want)
	}
	if before := plan.Drafts[0].Lines[0].Item.Campaign.Before; before != day("2026-01-02") || stops.Campaign.Before != (vehicle.Date{}) {
		t.Errorf("the draft was written to before on %v, the item on %v", before, stops.Campaign.Before)
	}
	if before := plan.Drafts[1].Lines[0].Item.Campaign.Before; !before.IsZero() {
		t.Errorf("of the other campaign nothing was written before, not on %v", before)
	}
}

// TestNoAnswerPutsALetterAboutACampaignOff: that work is booked or done is
// recorded with the campaign, by the works.
func TestNoAnswerPutsALetterAboutACampaignOff(t *testing.T) {
	v := Vehicle{Serial: "AM0147P", Items: []Item{campaign(1, "2027-04-01"), item("E01", "2027-05-01")}}
	for _, kind := range []AnswerKind{Booked, Snoozed, Done} {
		day := vehicle.MustDate(2027, 4, 11)
		if kind == Done {
			day = day.AddDays(-5)
		}
		a := Answer{Kind: kind, Day: day, Cycles: []string{v.Items[1].Cycle}}
		if err := a.Check(v, vehicle.MustDate(2027, 4, 10)); err != nil {
			t.Errorf("an answer about work: %v", err)
		}
		a.Cycles = []string{v.Items[0].Cycle}
		if err := a.Check(v, vehicle.MustDate(2027, 4, 10)); err == nil || !strings.Contains(err.Error(), "cycles[0]") {
			t.Errorf("an answer about a campaign: %v", err)
		}
	}
}
