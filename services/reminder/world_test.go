package reminder

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

// worldDay is about when random worlds are looked at.
var worldDay = day("2026-06-01")

var zones = []string{"UTC", "Europe/London", "America/New_York", "Pacific/Auckland", "Australia/Lord_Howe", "Pacific/Kiritimati", "Pacific/Pago_Pago", "Asia/Kathmandu"}

func genDay(t *rapid.T, label string, from, to int) vehicle.Date {
	return worldDay.AddDays(rapid.IntRange(from, to).Draw(t, label))
}

func oneIn(t *rapid.T, n int, label string) bool { return rapid.IntRange(1, n).Draw(t, label) == n }

// genWays gives some channels in some order.
func genWays(t *rapid.T, label string) []Channel {
	ways := rapid.Permutation([]Channel{Mail, Text, Letter}).Draw(t, label)
	return ways[:rapid.SampledFrom([]int{0, 1, 1, 2, 2, 3, 3}).Draw(t, label+" number")]
}

func genPerson(t *rapid.T, n int) Recipient {
	from := rapid.IntRange(0, 22).Draw(t, "from")
	r := Recipient{
		Person: fmt.Sprintf("p%d", n), Address: "x@a.example", Ways: genWays(t, "ways"), Role: rapid.SampledFrom([]string{"owner", "owner", "caretaker", "payer", "executor"}).Draw(t, "role"),
		Zone:  zone(rapid.SampledFrom(zones).Draw(t, "zone")),
		Hours: Hours{from, rapid.IntRange(from+1, 24).Draw(t, "until")},
		Most:  rapid.SampledFrom([]int{0, 0, 1, 2}).Draw(t, "most"), Notices: !oneIn(t, 8, "no notices"),
		Deceased: oneIn(t, 12, "deceased"), Refused: oneIn(t, 12, "refused"),
		Safety: genWays(t, "safety ways"), Since: genDay(t, "since", -200, 0),
	}
	if oneIn(t, 6, "usual hours") {
		r.Hours = Hours{}
	}
	if oneIn(t, 3, "yearly") {
		r.Yearly, r.YearWays = true, slices.DeleteFunc(genWays(t, "year ways"), func(c Channel) bool { return c == Text })
	}
	if oneIn(t, 4, "unasked") {
		r.Unasked = []Channel{Text}
	}
	return r
}

func genItem(t *rapid.T, v Vehicle, n int) Item {
	i := Item{
		ID: fmt.Sprintf("I%d", n), Cycle: fmt.Sprintf("I%d.1", n), Title: "Service", ActBy: genDay(t, "act by", -150, 150),
		NoticeDays: rapid.SampledFrom([]int{0, 0, 0, 7, 45, 200}).Draw(t, "notice"),
		Class:      rapid.SampledFrom([]Class{"", Routine, Vital, Vital, Settling, Seasonal}).Draw(t, "class"),
	}
	switch rapid.IntRange(0, 12).Draw(t, "kind") {
	case 0:
		i.OwnerCheck = true
	case 1:
		i.ActBy = vehicle.Date{}
	case 2, 3, 4:
		i.Began = i.ActBy.AddDays(-rapid.IntRange(0, 400).Draw(t, "round"))
	case 5:
		if !v.LayUpTo.IsZero() {
			i.ActBy = v.LayUpTo.AddDays(1)
			i.MovedTo = i.ActBy
		}
	case 6:
		if !v.LayUpFrom.IsZero() {
			i.ActBy = v.LayUpFrom.AddDays(-1)
		}
	}
	return i
}

func genVehicle(t *rapid.T) Vehicle {
	v := Vehicle{Serial: "AM0147P", Scrapped: oneIn(t, 30, "scrapped"), LostTrack: oneIn(t, 10, "lost")}
	if oneIn(t, 2, "lay-up") {
		v.LayUpFrom = genDay(t, "lay-up from", -60, 60)
		if !oneIn(t, 5, "open") {
			v.LayUpTo = v.LayUpFrom.AddDays(rapid.IntRange(0, 90).Draw(t, "lay-up days"))
		}
	}
	for n := range rapid.IntRange(0, 8).Draw(t, "items") {
		v.Items = append(v.Items, genItem(t, v, n))
	}
	if oneIn(t, 3, "reading") {
		v.Items = append(v.Items, Item{ID: "READ", Cycle: rapid.SampledFrom([]string{"READ.1", "READ.2"}).Draw(t, "occasion"), Reading: true, ActBy: genDay(t, "ask", -30, 30)})
	}
	if oneIn(t, 3, "year") {
		i := YearItem(2025)
		i.ActBy = genDay(t, "year day", -45, 10)
		v.Items = append(v.Items, i)
	}
	for n := range rapid.SampledFrom([]int{0, 0, 1, 2}).Draw(t, "campaigns") {
		v.Items = append(v.Items, genLetter(t, n))
	}
	return v
}

// genLetter gives a letter about a campaign.
func genLetter(t *rapid.T, n int) Item {
	i := Item{ID: fmt.Sprintf("C-%d", n), Title: "Remedy", ActBy: genDay(t, "letter", -100, 20), Campaign: &Campaign{
		Round: rapid.IntRange(1, 2).Draw(t, "letter's round"), Letter: rapid.IntRange(1, 3).Draw(t, "letter's number"), StopUse: oneIn(t, 3, "stop"),
	}}
	i.Cycle = CampaignCycle(i.ID, i.Campaign.Round, i.Campaign.Letter)
	if oneIn(t, 3, "another letter") {
		i.Campaign.Next = genDay(t, "later", 21, 60)
	}
	if oneIn(t, 4, "agreed") {
		i.Campaign.Booked = genDay(t, "agreed day", -20, 40)
	}
	if oneIn(t, 5, "telephoned") {
		i.Campaign.Notified = i.ActBy.AddDays(rapid.IntRange(-20, 20).Draw(t, "telephoned after"))
	}
	return i
}

// genClaims gives what was told or tried, in the past; of one round, stage,
// person and channel there is never more than one.
func genClaims(t *rapid.T, c Case) []Claim {
	cycles := []string{"READ.1", "READ.2", "gone.1"}
	for _, i := range c.Vehicle.Items {
		cycles = append(cycles, i.Cycle, i.Cycle, i.Cycle)
		if i.Campaign != nil {
			for n := range 4 {
				cycles = append(cycles, CampaignCycle(i.ID, 1+n%2, 1+rapid.IntRange(0, 3).Draw(t, "letter told")))
			}
		}
	}
	var claims []Claim
	seen := map[string]bool{}
	for n := range rapid.IntRange(0, 14).Draw(t, "claims") {
		k := Claim{
			Cycle: rapid.SampledFrom(cycles).Draw(t, "of"), Stage: Stage(rapid.IntRange(int(Early), int(SecondOverdue)).Draw(t, "stage")),
			Channel: rapid.SampledFrom([]Channel{Mail, Text, Letter}).Draw(t, "by"), Person: fmt.Sprintf("p%d", rapid.IntRange(0, 2).Draw(t, "person")),
			Time:   c.Now.Add(-time.Duration(rapid.IntRange(0, 70*24).Draw(t, "hours ago")) * time.Hour),
			Failed: oneIn(t, 3, "failed"), Notice: fmt.Sprint("notice ", n),
			State: rapid.SampledFrom([]State{0, 0, 0, 0, Sent, Sent, Claimed, Waiting, Parked}).Draw(t, "state"),
		}
		if strings.HasPrefix(k.Cycle, "READ") || strings.HasPrefix(k.Cycle, "YEAR") {
			k.Stage = Early
		}
		if strings.HasPrefix(k.Cycle, "C-") {
			k.Stage = Due
		}
		if oneIn(t, 10, "task") {
			k = Claim{Cycle: k.Cycle, Task: rapid.SampledFrom([]TaskKind{NoContact, OwnerSilent}).Draw(t, "task kind"), Time: k.Time}
		}
		if key := fmt.Sprint(k.Cycle, k.Stage, k.Channel, k.Person, k.Task); !seen[key] {
			seen[key] = true
			claims = append(claims, k)
		}
	}
	return claims
}

func genAnswers(t *rapid.T, c Case) []Answer {
	var answers []Answer
	for range rapid.SampledFrom([]int{0, 0, 0, 1, 2}).Draw(t, "answers") {
		if len(c.Vehicle.Items) == 0 {
			break
		}
		a := Answer{Kind: AnswerKind(rapid.IntRange(1, 3).Draw(t, "answer")), Day: genDay(t, "answer day", -15, 40)}
		for _, i := range c.Vehicle.Items {
			if oneIn(t, 3, "answered") {
				a.Cycles = append(a.Cycles, i.Cycle)
			}
		}
		if oneIn(t, 5, "withdrawn") {
			a.Withdrawn = c.Now.Add(-time.Hour)
		}
		answers = append(answers, a)
	}
	return answers
}

func genCadences(t *rapid.T) Cadences {
	cadences := Cadences{}
	for range rapid.SampledFrom([]int{0, 0, 1, 2}).Draw(t, "cadences") {
		cadences[rapid.SampledFrom(Classes()).Draw(t, "of class")] = Cadence{
			Early: rapid.SampledFrom([]int{0, 1, 20, 60, 120}).Draw(t, "early"), Overdue: rapid.IntRange(1, 40).Draw(t, "overdue"),
			SecondOverdue: rapid.SampledFrom([]int{0, 1, 10, 40}).Draw(t, "second"), Works: rapid.IntRange(1, 30).Draw(t, "works"),
			Apart: rapid.IntRange(1, 20).Draw(t, "apart"),
		}
	}
	return cadences
}

func genOut(t *rapid.T, label string) map[string]bool {
	out := map[string]bool{}
	for n := range 3 {
		if oneIn(t, 8, label) {
			out[fmt.Sprintf("p%d", n)] = true
		}
	}
	return out
}

func genCase(t *rapid.T) Case {
	c := Case{
		Vehicle: genVehicle(t), Now: worldDay.Start(time.UTC).Add(time.Duration(rapid.IntRange(0, 100_000).Draw(t, "seconds")) * time.Second),
		Cadences: genCadences(t), OptOuts: genOut(t, "opted out"), NoYear: genOut(t, "no letter"), Recent: map[string][]time.Time{},
	}
	for n := range rapid.IntRange(0, 3).Draw(t, "people") {
		r := genPerson(t, n)
		c.People = append(c.People, r)
		for range rapid.SampledFrom([]int{0, 0, 1, 2, 5}).Draw(t, "recent") {
			c.Recent[r.Person] = append(c.Recent[r.Person], c.Now.Add(-time.Duration(rapid.IntRange(0, 40*24).Draw(t, "hours before"))*time.Hour))
		}
	}
	c.Claims, c.Answers = genClaims(t, c), genAnswers(t, c)
	return c
}

// worldsAtATime is how many worlds one check looks at, so that the usual number
// of checks is thousands of worlds.
const worldsAtATime = 20

func TestADumberSelectionAgrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for range worldsAtATime {
			c := genCase(t)
			agrees(t, c, Select(c))
		}
	})
}

// agrees compares a plan with what the dumb implementation makes of the case:
// every message, and every line's reason and next day.
func agrees(t *rapid.T, c Case, plan Plan) {
	lines := map[string]Pending{}
	for _, l := range plan.Lines {
		key := l.Person + " " + l.Item.Cycle
		if _, twice := lines[key]; twice {
			t.Fatalf("two lines for %s", key)
		}
		if l.Sentence == "" || !strings.HasSuffix(l.Sentence, ".") {
			t.Fatalf("%s: no sentence: %q", key, l.Sentence)
		}
		lines[key] = l
	}
	drafts := len(plan.Drafts) + len(plan.Held)
	for _, r := range c.People {
		d := dumb{c, r, vehicle.DateOf(r.Local(c.Now))}
		told := map[string]string{}
		for _, purpose := range []Purpose{Service, YearLetter} {
			lead, by, want := d.message(purpose)
			where := "drafts"
			if !d.awake() && by != Letter {
				where = "held"
			}
			for cycle := range want {
				told[cycle] = where
			}
			drafts -= sameMessage(t, plan, r.Person, purpose, where, lead, by, want)
		}
		for _, i := range c.Vehicle.Items {
			if i.Campaign == nil {
				continue
			}
			where := ""
			if by := d.letter(i); by != "" {
				if where = "drafts"; !d.awake() && by != Letter {
					where = "held"
				}
				told[i.Cycle] = where
				drafts--
			}
			sameLetter(t, plan, d, i, where)
		}
		for _, i := range c.Vehicle.Items {
			key := r.Person + " " + i.Cycle
			got, listed := lines[key]
			delete(lines, key)
			if want := d.concerns(i); want != listed {
				t.Fatalf("%s is listed: %v, want %v", key, listed, want)
			}
			if listed {
				sameReason(t, d, i, told[i.Cycle], got)
			}
		}
	}
	if drafts != 0 {
		t.Fatalf("%d messages too many", drafts)
	}
	tasks := map[string]bool{}
	for _, task := range plan.Tasks {
		for _, cycle := range task.Cycles {
			tasks[string(task.Kind)+" "+cycle] = true
		}
	}
	if want := dumbTasks(c); !maps.Equal(tasks, want) {
		t.Fatalf("tasks %v, want %v", tasks, want)
	}
	for key, l := range lines {
		if l.Person != "" || l.Reason != Nobody && l.Reason != Scrapped || slices.ContainsFunc(c.People, func(r Recipient) bool {
			return r.Notices || l.Item.Year != 0 && r.Yearly || l.Item.Campaign != nil
		}) {
			t.Fatalf("a line too many: %s %+v", key, l)
		}
	}
}

// sameMessage compares one message and gives how many there were.
func sameMessage(t *rapid.T, plan Plan, person string, p Purpose, where, lead string, by Channel, want map[string]Stage) int {
	found := 0
	for name, drafts := range map[string][]Draft{"drafts": plan.Drafts, "held": plan.Held} {
		for _, d := range drafts {
			if d.To.Person != person || d.Purpose != p || p == Safety {
				continue
			}
			found++
			got := map[string]Stage{}
			for _, l := range d.Lines {
				got[l.Item.Cycle] = l.Stage
			}
			if !maps.Equal(got, want) || d.Lines[0].Item.Cycle != lead || d.Channel != by || name != where || len(d.Lines) != len(got) {
				t.Fatalf("%s, purpose %d: got %v led by %s %s in %s, want %v led by %s %s in %s", person, p, got, d.Lines[0].Item.Cycle, d.Channel, name, want, lead, by, where)
			}
		}
	}
	if found > 1 || (found == 1) != (len(want) > 0) {
		t.Fatalf("%s, purpose %d: %d messages, want %v", person, p, found, want)
	}
	return found
}

// sameLetter compares the message about one campaign: where it stands, "" for
// none.
func sameLetter(t *rapid.T, plan Plan, d dumb, i Item, where string) {
	for name, drafts := range map[string][]Draft{"drafts": plan.Drafts, "held": plan.Held} {
		found := slices.DeleteFunc(slices.Clone(drafts), func(m Draft) bool {
			return m.To.Person != d.r.Person || !slices.ContainsFunc(m.Lines, func(l Line) bool { return l.Item.Cycle == i.Cycle })
		})
		if (len(found) == 1) != (name == where) || len(found) > 1 {
			t.Fatalf("%s %s: %d letters in %s, want one in %q", d.r.Person, i.Cycle, len(found), name, where)
		}
		for _, m := range found {
			if len(m.Lines) != 1 || m.Purpose != Safety || m.Channel != d.way(i, Due) || m.Stage != Due || m.Lines[0].Stage != Due {
				t.Fatalf("%s %s: got %+v", d.r.Person, i.Cycle, m)
			}
		}
	}
}

// awake says whether a message may arrive, minute by minute of the local day.
func (d dumb) awake() bool {
	h := d.r.Hours
	if h.From == 0 && h.Until == 0 {
		h = Hours{9, 18}
	}
	local := d.r.Local(d.Now)
	for minute := h.From * 60; minute < h.Until*60; minute++ {
		if local.Hour()*60+local.Minute() == minute {
			return true
		}
	}
	return false
}

// concerns says whether an item is to be explained to a person.
func (d dumb) concerns(i Item) bool {
	if i.OwnerCheck || i.ActBy.IsZero() || days(d.today, i.ActBy) > 150 {
		return false
	}
	if i.Campaign != nil {
		return true
	}
	if i.Year > 0 {
		return (d.r.Notices || d.r.Yearly) && days(i.ActBy, d.today) <= 35
	}
	return d.r.Notices
}

func sameReason(t *rapid.T, d dumb, i Item, told string, got Pending) {
	want, dated := d.reason(i, told)
	if got.Reason != want || got.Stage != d.stage(i) {
		t.Fatalf("%s %s: got %s %v (%s), want %s %v", d.r.Person, i.Cycle, got.Reason, got.Stage, got.Sentence, want, d.stage(i))
	}
	if !dated {
		return
	}
	if i.Campaign != nil {
		sameNextLetter(t, d, i, got)
		return
	}
	next := vehicle.Date{}
	for n := 1; n <= 400 && next.IsZero(); n++ {
		later := d
		if later.today = d.today.AddDays(n); later.why(i) == "" {
			next = later.today
		}
	}
	if works := d.worksDay(i); next.IsZero() && d.today.Before(works) && !slices.ContainsFunc(d.Claims, func(c Claim) bool { return c.Cycle == i.Cycle && c.Task != "" }) {
		next = works
	}
	if got.Next != next {
		t.Fatalf("%s %s: %s until %v, want %v", d.r.Person, i.Cycle, got.Reason, got.Next, next)
	}
}

// sameNextLetter compares the day on which a person is written to next about a
// campaign: the first on which this letter asks for it, else that of the next
// letter, or as soon after it as that may go.
func sameNextLetter(t *rapid.T, d dumb, i Item, got Pending) {
	next := vehicle.Date{}
	for n := 1; n <= 400 && next.IsZero(); n++ {
		later := d
		if later.today = d.today.AddDays(n); later.why(i) == "" {
			next = later.today
		}
	}
	if next.IsZero() && !i.Campaign.Next.IsZero() {
		after, letter := i, *i.Campaign
		letter.Letter, letter.Next, letter.Notified = letter.Letter+100, vehicle.Date{}, vehicle.Date{}
		after.Campaign, after.ActBy, after.Cycle = &letter, i.Campaign.Next, "the next"
		for n := 0; n <= 400 && next.IsZero(); n++ {
			later := d
			later.r.Safety, later.Claims = []Channel{Mail}, slices.Clone(d.Claims)
			if later.today = i.Campaign.Next.AddDays(n); later.whyNoLetter(after) == "" {
				next = later.today
			}
		}
	}
	if got.Next != next {
		t.Fatalf("%s %s: %s until %v, want %v", d.r.Person, i.Cycle, got.Reason, got.Next, next)
	}
}

// reason gives why an item stands where it does, and whether its next day is to
// be that on which it asks to be told.
func (d dumb) reason(i Item, told string) (reason string, dated bool) {
	p, ways, out := Service, d.r.Ways, d.OptOuts
	if i.Year > 0 {
		p, ways, out = YearLetter, d.r.YearWays, d.NoYear
	}
	if i.Campaign != nil {
		ways, out = d.r.Safety, nil
	}
	why := d.why(i)
	switch {
	case d.Vehicle.Scrapped:
		return Scrapped, false
	case d.r.Deceased:
		return Deceased, false
	case out[d.r.Person]:
		return OptedOut, false
	case i.Campaign == nil && !d.may(p):
		return NoConsent, false
	case told == "drafts":
		return Told, false
	case told == "held":
		return OutsideHours, false
	case len(ways) == 0 && slices.Contains([]string{"", NotYet, TooSoonAfter, NoWay}, why):
		if i.Year == 0 && i.Campaign == nil && len(d.r.Unasked) > 0 {
			return NoConsent, false
		}
		return NoWay, false
	case why == "" && i.Year == 0 && i.Campaign == nil && d.full():
		return MonthlyLimit, false
	case why == "":
		return WaitingToSend, false
	case why != Told:
		return why, true
	}
	if waits := d.waits(i); waits != "" {
		return waits, true
	}
	if d.last(i.Cycle).State == Parked {
		return IsParked, true
	}
	for _, c := range d.Claims {
		if c.Cycle == i.Cycle && c.Task != "" {
			return WorksTold, true
		}
	}
	return Told, true
}
