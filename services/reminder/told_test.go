package reminder

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
)

// planText prints what a plan tells: "mail: E01 early, B03 early", "held
// letter: ..." and the reasons of what it does not tell: "H01 NOT_YET
// 2027-06-15".
func planText(p Plan) string {
	var words []string
	for n, d := range append(slices.Clone(p.Drafts), p.Held...) {
		word := string(d.Channel) + ": " + toldText(d)
		if n >= len(p.Drafts) {
			word = "held " + word
		}
		words = append(words, word)
	}
	for _, l := range p.Lines {
		if l.Reason != Told || len(p.Drafts) == 0 {
			words = append(words, strings.TrimSpace(l.Item.ID+" "+l.Reason+" "+l.Next.String()))
		}
	}
	return strings.Join(words, "; ")
}

func TestByWhichWayAStageIsTold(t *testing.T) {
	oil, fluid := item("E01", "2027-05-01"), item("B03", "2027-05-20")
	for _, c := range []struct {
		name   string
		ways   []Channel
		items  []Item
		claims []Claim
		now    string
		want   string
	}{
		{"by the first way", []Channel{Text, Mail}, []Item{oil}, nil, "2027-04-01T12", "text: E01 early"},
		{"by the second when the first failed, and at once", []Channel{Mail, Letter}, []Item{oil}, []Claim{failedBy(Mail, oil, Early, "2027-04-01")}, "2027-04-02T12", "letter: E01 early"},
		{"what failed at one stage is tried again at the next", []Channel{Mail, Letter}, []Item{oil}, []Claim{failedBy(Mail, oil, Early, "2027-04-01"), claim(oil, Early, "2027-04-02")}, "2027-05-01T12", "mail: E01 due"},
		{"not again when the other way told it", []Channel{Mail, Letter}, []Item{oil}, []Claim{failedBy(Mail, oil, Early, "2027-04-01"), claim(oil, Early, "2027-04-02")}, "2027-04-20T12", "E01 TOLD 2027-05-01"},
		{"a stage that failed by every way is told no more", []Channel{Mail, Letter}, []Item{oil}, []Claim{failedBy(Mail, oil, Early, "2027-04-01"), failedBy(Letter, oil, Early, "2027-04-02")}, "2027-04-20T12", "E01 NO_WAY 2027-05-01"},
		{"the next stage is tried anew", []Channel{Mail, Letter}, []Item{oil}, []Claim{failedBy(Mail, oil, Early, "2027-04-01"), failedBy(Letter, oil, Early, "2027-04-02")}, "2027-05-01T12", "mail: E01 due"},
		{"nobody without a way is told", nil, []Item{oil}, nil, "2027-05-01T12", "E01 NO_WAY"},
		{"what has another way goes along with the leading item's", []Channel{Mail, Letter}, []Item{oil, fluid}, []Claim{failedBy(Mail, oil, Early, "2027-04-01")}, "2027-04-22T12", "letter: E01 early, B03 early"},
		{"but by no way that failed for it", []Channel{Mail, Letter}, []Item{oil, fluid}, []Claim{failedBy(Mail, fluid, Due, "2027-05-02")}, "2027-05-20T12", "mail: E01 due; B03 WAITING_TO_SEND 2027-05-20"},
		{"mail waits for the hours", []Channel{Mail}, []Item{oil}, nil, "2027-04-01T20", "held mail: E01 early; E01 OUTSIDE_HOURS 2027-04-02"},
		{"until the same day's, before they begin", []Channel{Mail}, []Item{oil}, nil, "2027-04-01T05", "held mail: E01 early; E01 OUTSIDE_HOURS 2027-04-01"},
		{"a letter does not", []Channel{Letter}, []Item{oil}, nil, "2027-04-01T20", "letter: E01 early"},
	} {
		r := margaret
		r.Ways = c.ways
		plan := Select(Case{Vehicle: Vehicle{Serial: "AM0147P", Items: c.items}, People: []Recipient{r}, Claims: c.claims, Now: at(c.now + ":00:00Z")})
		if got := planText(plan); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}

func TestWhatAnswersDo(t *testing.T) {
	oil, fluid := item("E01", "2027-05-01"), item("B03", "2027-05-20")
	answer := func(k AnswerKind, on string, cycles ...string) Answer {
		return Answer{ID: "a", Serial: "AM0147P", Kind: k, Day: day(on), Cycles: cycles}
	}
	both := []string{oil.Cycle, fluid.Cycle}
	taken := answer(Done, "2027-04-30", both...)
	taken.Withdrawn = at("2027-05-01T08:00:00Z")
	for _, c := range []struct {
		name    string
		answers []Answer
		now     string
		want    string
	}{
		{"booked is silent until the day", []Answer{answer(Booked, "2027-05-10", both...)}, "2027-05-10", "E01 BOOKED 2027-05-17; B03 BOOKED 2027-05-17"},
		{"and for a week after", []Answer{answer(Booked, "2027-05-10", both...)}, "2027-05-16", "E01 BOOKED 2027-05-17; B03 BOOKED 2027-05-17"},
		{"without the work it is told again then", []Answer{answer(Booked, "2027-05-10", both...)}, "2027-05-17", "mail: E01 due, B03 due"},
		{"put off is silent until the day", []Answer{answer(Snoozed, "2027-05-20", both...)}, "2027-05-19", "E01 SNOOZED 2027-05-20; B03 SNOOZED 2027-05-20"},
		{"and told on it", []Answer{answer(Snoozed, "2027-05-20", both...)}, "2027-05-20", "mail: E01 due, B03 due"},
		{"said to be done is silent for good", []Answer{answer(Done, "2027-05-01", both...)}, "2028-05-01", "E01 SAID_DONE; B03 SAID_DONE"},
		{"until it is taken back", []Answer{taken}, "2027-05-01", "mail: E01 due, B03 due"},
		{"an answer silences what it names and nothing else", []Answer{answer(Snoozed, "2027-05-20", oil.Cycle)}, "2027-05-02", "mail: B03 early; E01 SNOOZED 2027-05-20"},
		{"and does not go along with the rest", []Answer{answer(Snoozed, "2027-06-20", fluid.Cycle)}, "2027-05-02", "mail: E01 due; B03 SNOOZED 2027-06-20"},
		{"of two answers the longer holds", []Answer{answer(Snoozed, "2027-05-05", both...), answer(Booked, "2027-05-01", both...)}, "2027-05-06", "E01 BOOKED 2027-05-08; B03 BOOKED 2027-05-08"},
		{"an earlier round's answer does not hold for this one", []Answer{answer(Done, "2026-05-01", "E01.2025-05-01", "B03.2025-05-20")}, "2027-05-01", "mail: E01 due, B03 due"},
	} {
		plan := Select(Case{Vehicle: Vehicle{Serial: "AM0147P", Items: []Item{oil, fluid}}, People: []Recipient{margaret}, Answers: c.answers, Now: at(c.now + "T12:00:00Z")})
		if got := planText(plan); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}

func TestTheLimitOfThirtyDays(t *testing.T) {
	oil, brakes, read := item("E01", "2027-05-01"), item("B01", "2027-05-01"), Item{ID: "READ", Cycle: "READ.1", Reading: true, ActBy: day("2027-04-01")}
	brakes.Class = Vital
	coming := brakes
	coming.ActBy = day("2027-05-10")
	ago := func(days ...int) (out []time.Time) {
		for _, n := range days {
			out = append(out, at("2027-05-01T12:00:00Z").Add(-time.Duration(n)*24*time.Hour))
		}
		return out
	}
	for _, c := range []struct {
		name   string
		most   int
		recent []time.Time
		items  []Item
		want   string
	}{
		{"three of four leave one", 0, ago(1, 2, 3), []Item{oil}, "mail: E01 due"},
		{"four are enough, until the first is 30 days old", 0, ago(20, 2, 3, 1), []Item{oil}, "E01 MONTHLY_LIMIT 2027-05-11"},
		{"what is 30 days old does not count", 0, ago(30, 29, 2, 3), []Item{oil}, "mail: E01 due"},
		{"somebody wants one and no more", 1, ago(10), []Item{oil}, "E01 MONTHLY_LIMIT 2027-05-21"},
		{"of more than the limit the right one must pass", 2, ago(5, 10, 20), []Item{oil}, "E01 MONTHLY_LIMIT 2027-05-21"},
		{"a reading is asked for within the limit too", 1, ago(10), []Item{read}, "READ MONTHLY_LIMIT 2027-05-21"},
		{"what bears on safety and is due is told all the same", 1, ago(10), []Item{brakes}, "mail: B01 due"},
		{"and what is of its visit goes along: it is one message", 1, ago(10), []Item{brakes, oil}, "mail: B01 due, E01 due"},
		{"what bears on safety and only comes up is not", 1, ago(10), []Item{coming}, "B01 MONTHLY_LIMIT 2027-05-21"},
	} {
		r := margaret
		r.Most = c.most
		plan := Select(Case{Vehicle: Vehicle{Serial: "AM0147P", Items: c.items}, People: []Recipient{r}, Recent: map[string][]time.Time{r.Person: c.recent}, Now: at("2027-05-01T12:00:00Z")})
		if got := planText(plan); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}

func TestTheSeasons(t *testing.T) {
	oil, coolant, late, read := item("E01", "2027-05-01"), item("C01", "2026-10-31"), item("H01", "2026-10-01"), Item{ID: "READ", Cycle: "READ.1", Reading: true, ActBy: day("2026-12-01")}
	oil.MovedTo = oil.ActBy
	battery, soon := item("B09", "2027-01-15"), item("S01", "2027-05-10")
	c := Case{Vehicle: Vehicle{Serial: "AM0147P", LayUpFrom: day("2026-11-01"), LayUpTo: day("2027-04-30")}, People: []Recipient{margaret}}
	for _, s := range []struct {
		name  string
		now   string
		items []Item
		want  string
		of    Season
	}{
		{"what is to be done before putting away is told six weeks before", "2026-09-19", []Item{coolant}, "mail: C01 early", Season{PuttingAway, day("2026-11-01")}},
		{"other work is told as ever, in the words of no season", "2026-09-19", []Item{late}, "mail: H01 early", Season{}},
		{"the lay-up keeps what is late silent", "2026-11-10", []Item{late}, "H01 NOT_YET 2027-05-01", Season{}},
		{"the day before it begins does not", "2026-10-31", []Item{late}, "mail: H01 overdue", Season{}},
		{"no reading is asked for", "2026-12-01", []Item{read}, "READ NOT_YET 2027-05-01", Season{}},
		{"work for bringing it back is told while it stands", "2027-03-20", []Item{oil}, "mail: E01 early", Season{Recommissioning, day("2027-05-01")}},
		{"not sooner", "2027-03-19", []Item{oil}, "E01 NOT_YET 2027-03-20", Season{}},
		{"what is due soon after goes along, what is late does not", "2027-03-20", []Item{oil, soon, late}, "mail: E01 early, S01 early; H01 NOT_YET 2027-05-01", Season{Recommissioning, day("2027-05-01")}},
		{"what is due soon after is not told alone", "2027-04-15", []Item{soon}, "S01 NOT_YET 2027-05-01", Season{}},
		{"the day after it ends all is told", "2027-05-01", []Item{soon}, "mail: S01 early", Season{}},
		{"what the programme wants done while it stands is told", "2027-01-15", []Item{battery}, "mail: B09 due", Season{}},
	} {
		c.Vehicle.Items, c.Now = s.items, at(s.now+"T12:00:00Z")
		plan := Select(c)
		got := planText(plan)
		if got != s.want || len(plan.Drafts) > 0 && plan.Drafts[0].Season != s.of {
			t.Errorf("%s:\n got %s %+v\nwant %s %+v", s.name, got, plan.Drafts, s.want, s.of)
		}
	}
}

func TestTheLetterOfAYear(t *testing.T) {
	r := margaret
	r.Yearly, r.YearWays = true, []Channel{Letter}
	payer := Recipient{Person: "p0032", Ways: []Channel{Mail}, Yearly: true, YearWays: []Channel{Mail}}
	year := YearItem(2026)
	told := claim(year, Early, "2027-01-02")
	for _, c := range []struct {
		name string
		c    Case
		now  string
		want string
	}{
		{"goes to whoever asked for it", Case{People: []Recipient{r}}, "2027-01-02", "letter: YEAR early"},
		{"also to somebody whom service notices do not go to", Case{People: []Recipient{payer}}, "2027-01-02", "mail: YEAR early"},
		{"not before the year ends", Case{People: []Recipient{r}}, "2026-12-26", "YEAR NOT_YET 2026-12-27"},
		{"once", Case{People: []Recipient{r}, Claims: []Claim{told}}, "2027-01-20", "YEAR TOLD"},
		{"again when it failed", Case{People: []Recipient{r}, Claims: []Claim{failedBy(Mail, year, Early, "2027-01-02")}}, "2027-01-03", "letter: YEAR early"},
		{"not to whoever did not ask", Case{People: []Recipient{margaret}}, "2027-01-02", "YEAR NO_CONSENT"},
		{"nor to whoever opted out of it", Case{People: []Recipient{r}, NoYear: map[string]bool{r.Person: true}}, "2027-01-02", "YEAR OPTED_OUT"},
		{"whatever they said of service notices", Case{People: []Recipient{r}, OptOuts: map[string]bool{r.Person: true}}, "2027-01-02", "letter: YEAR early"},
		{"above the limit of service notices", Case{People: []Recipient{r}, Recent: map[string][]time.Time{r.Person: slices.Repeat([]time.Time{at("2027-01-01T12:00:00Z")}, 9)}}, "2027-01-02", "letter: YEAR early"},
		{"into a lay-up", Case{People: []Recipient{r}, Vehicle: Vehicle{LayUpFrom: day("2026-11-01")}}, "2027-01-02", "letter: YEAR early"},
		{"apart from service notices", Case{People: []Recipient{r}, Vehicle: Vehicle{Items: []Item{item("E01", "2027-01-15")}}}, "2027-01-02", "mail: E01 early; letter: YEAR early"},
		{"not about a scrapped vehicle", Case{People: []Recipient{r}, Vehicle: Vehicle{Scrapped: true}}, "2027-01-02", "YEAR SCRAPPED"},
	} {
		c.c.Vehicle.Serial, c.c.Vehicle.Items, c.c.Now = "AM0147P", append(c.c.Vehicle.Items, year), at(c.now+"T12:00:00Z")
		plan := Select(c.c)
		if got := planText(plan); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
		for _, d := range plan.Drafts {
			if (d.Lines[0].Item.Year != 0) != (d.Purpose == YearLetter) {
				t.Errorf("%s: purpose %d of %s", c.name, d.Purpose, toldText(d))
			}
		}
	}
}

func TestSentencesOfWhatIsPending(t *testing.T) {
	oil := item("E01", "2027-05-01")
	waiting, printing, parked := claim(oil, Early, "2027-04-01"), claim(oil, Early, "2027-04-01"), claim(oil, Early, "2027-04-01")
	waiting.State, waiting.Notice = Waiting, "AM0147P.E01.2026-05-01.early.mail.p0031"
	printing.State, printing.Channel, parked.State = Claimed, Letter, Parked
	dead, noWay, unasked, refused := margaret, margaret, margaret, margaret
	dead.Deceased, noWay.Ways, unasked.Ways, unasked.Unasked, refused.Refused = true, nil, nil, []Channel{Text}, true
	for _, c := range []struct {
		c    Case
		now  string
		want string
	}{
		{Case{}, "2027-03-01", `NOT_YET "It is not time yet. It is told from 1 April 2027."`},
		{Case{}, "2027-04-01", `TOLD "It is told now, by mail."`},
		{Case{Claims: []Claim{claim(oil, Early, "2027-04-01")}}, "2027-04-20", `TOLD "The early notice went out by mail on 1 April 2027. The next step is on 1 May 2027."`},
		{Case{Claims: []Claim{claim(oil, SecondOverdue, "2027-07-01")}}, "2027-07-20", `TOLD "The second overdue notice went out by mail on 1 July 2027. The next step is on 31 July 2027."`},
		{Case{Claims: []Claim{claim(oil, SecondOverdue, "2027-07-01"), {Cycle: oil.Cycle, Task: OwnerSilent}}}, "2027-09-01", `WORKS_TOLD "Every notice went out and nothing was recorded; the works has a task."`},
		{Case{Claims: []Claim{claim(oil, Early, "2027-04-20")}}, "2027-05-01", `TOO_SOON_AFTER "The early notice went out only on 20 April 2027. The next one may go from 4 May 2027."`},
		{Case{Claims: []Claim{waiting}}, "2027-04-20", `WAITING_TO_SEND "The early notice waits to be sent since 1 April 2027."`},
		{Case{Claims: []Claim{printing}}, "2027-05-20", `LETTER_TO_PRINT "The early notice waits to be printed and posted since 1 April 2027."`},
		{Case{Claims: []Claim{waiting}}, "2027-05-20", `WAITING_TO_SEND "The early notice waits to be sent since 1 April 2027."`},
		{Case{Claims: []Claim{printing}}, "2027-04-20", `LETTER_TO_PRINT "The early notice waits to be printed and posted since 1 April 2027."`},
		{Case{Claims: []Claim{parked}}, "2027-04-20", `PARKED "The early notice could not be delivered; the works has a task. The next step is on 1 May 2027."`},
		{Case{People: []Recipient{dead}}, "2027-04-20", `DECEASED "The recipient has died."`},
		{Case{People: []Recipient{noWay}}, "2027-04-20", `NO_WAY "There is no way left by which this can reach the recipient."`},
		{Case{People: []Recipient{unasked}}, "2027-04-20", `NO_CONSENT "The recipient has not agreed to be written to for this, or not by any way that is left."`},
		{Case{People: []Recipient{refused}}, "2027-04-20", `NO_CONSENT "The recipient said that they want no service notices, about no vehicle."`},
		{Case{OptOuts: map[string]bool{margaret.Person: true}}, "2027-04-20", `OPTED_OUT "The recipient wants no such notices about this vehicle."`},
		{Case{People: []Recipient{{Person: "p9"}}}, "2027-04-20", `NOBODY "Nobody is recorded whom service notices go to."`},
		{Case{People: []Recipient{{Person: "p9"}}, Claims: []Claim{{Cycle: oil.Cycle, Task: NoContact}}}, "2027-04-20", `NOBODY "Nobody is recorded whom service notices go to. The works has a task."`},
		{Case{Vehicle: Vehicle{Scrapped: true}}, "2027-04-20", `SCRAPPED "The vehicle was scrapped: nothing is told of it any more."`},
		{Case{Answers: []Answer{{Kind: Booked, Cycles: []string{oil.Cycle}, Day: day("2027-05-03")}}}, "2027-04-20", `BOOKED "It is booked for 3 May 2027. Without the work, it is told again from 10 May 2027."`},
		{Case{Answers: []Answer{{Kind: Snoozed, Cycles: []string{oil.Cycle}, Day: day("2027-05-03")}}}, "2027-04-20", `SNOOZED "It was put off until 3 May 2027. It is told again from 3 May 2027."`},
		{Case{Answers: []Answer{{Kind: Done, Cycles: []string{oil.Cycle}, Day: day("2027-04-03")}}}, "2027-04-20", `SAID_DONE "It is said to be done since 3 April 2027; the works waits for the paper."`},
		{Case{Vehicle: Vehicle{LayUpFrom: day("2027-04-02"), LayUpTo: day("2027-04-28")}}, "2027-04-20", `NOT_YET "The vehicle is laid up, and this can wait. It is told from 29 April 2027."`},
	} {
		c.c.Vehicle.Serial, c.c.Vehicle.Items, c.c.Now = "AM0147P", []Item{oil}, at(c.now+"T12:00:00Z")
		if c.c.People == nil {
			c.c.People = []Recipient{margaret}
		}
		lines := Select(c.c).Lines
		if len(lines) != 1 || lines[0].Item.ID != "E01" {
			t.Fatalf("%s: got %+v", c.want, lines)
		}
		if got := fmt.Sprintf("%s %q", lines[0].Reason, lines[0].Sentence); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
		if len(c.c.Claims) == 1 && lines[0].Reason == WaitingToSend && lines[0].Notice != waiting.Notice {
			t.Errorf("the notice is %q", lines[0].Notice)
		}
	}
}
