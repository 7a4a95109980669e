package reminder

import (
	"maps"
	"slices"
	"strings"
	"testing"
)

// reachable is somebody who wants mail before letters, and no text messages.
func reachable(person, role string) Recipient {
	return Recipient{Person: person, Role: role, Address: "x@a.example", Asked: []Channel{Mail, Letter}, Since: day("2026-01-01")}
}

func TestAHandbookGoesToWhoeverOwnsTheVehicleOrWhoIsNamed(t *testing.T) {
	owner, second, executor, caretaker, payer := reachable("p1", "owner"), reachable("p2", "owner"), reachable("p3", "executor"), reachable("p4", "caretaker"), reachable("p5", "payer")
	dead, unreached, paper := reachable("p6", "owner"), reachable("p7", "owner"), reachable("p8", "owner")
	dead.Deceased, unreached.Asked, paper.Asked = true, nil, []Channel{Letter}
	refused := reachable("p9", "owner")
	refused.Refused, refused.Ways = true, nil
	all := []Recipient{owner, second, executor, caretaker, payer}
	for _, c := range []struct {
		name   string
		people []Recipient
		person string
		by     Channel
		change func(*Case)
		want   string // "p1 mail, p2 letter; p3 DECEASED"
	}{
		{"everybody who owns it or looks after the estate", all, "", "", nil, "p1 mail, p2 mail, p3 mail;"},
		{"who looks after it, when named", all, "p4", "", nil, "p4 mail;"},
		{"whoever pays is named in vain", all, "p5", "", nil, ";"},
		{"somebody who is nothing to it", all, "p8", "", nil, ";"},
		{"by letter, because that was asked for", all, "p1", Letter, nil, "p1 letter;"},
		{"by a way that they do not want", all, "p1", Text, nil, "; p1 NO_WAY"},
		{"the dead get nothing, nor who cannot be reached", []Recipient{owner, dead, unreached}, "", "", nil, "p1 mail; p6 DECEASED, p7 NO_WAY"},
		{"who has paper only", []Recipient{paper}, "", "", nil, "p8 letter;"},
		{"mail does not reach who has paper only", []Recipient{paper}, "", Mail, nil, "; p8 NO_WAY"},
		{"of a scrapped vehicle", []Recipient{owner}, "", "", func(c *Case) { c.Vehicle.Scrapped = true }, "; p1 SCRAPPED"},
		{"whoever wants no reminders asked for this all the same", []Recipient{refused}, "", "", func(c *Case) { c.OptOuts = map[string]bool{"p9": true} }, "p9 mail;"},
	} {
		ask := Case{Vehicle: Vehicle{Serial: "AM0147P", Items: []Item{{Cycle: "a"}}}, People: c.people, Now: at("2027-05-01T12:00:00Z")}
		if c.change != nil {
			c.change(&ask)
		}
		item := HandoutItem(Handout{Issue: 3}, "request", day("2027-05-01"))
		drafts, missed := ask.HandoutTo(item, c.person, c.by)
		var to, not []string
		for _, d := range drafts {
			to = append(to, d.To.Person+" "+string(d.Channel))
			if d.Purpose != Handbook || len(d.Vehicle.Items) != 0 || d.Lines[0].Item.Cycle != item.Cycle {
				t.Errorf("%s: the draft is %+v", c.name, d)
			}
		}
		for _, person := range slices.Sorted(maps.Keys(missed)) {
			not = append(not, person+" "+missed[person])
		}
		if got := strings.TrimSuffix(strings.Join(to, ", ")+"; "+strings.Join(not, ", "), " "); got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}

func TestEachRequestForAHandbookHasANameOfItsOwn(t *testing.T) {
	one, again := HandoutItem(Handout{Issue: 3}, "a", day("2027-05-01")), HandoutItem(Handout{Issue: 3}, "a", day("2027-06-01"))
	other, next := HandoutItem(Handout{Issue: 3}, "b", day("2027-05-01")), HandoutItem(Handout{Issue: 4}, "a", day("2027-05-01"))
	if one.Cycle != again.Cycle {
		t.Errorf("the same request is %q and %q", one.Cycle, again.Cycle)
	}
	if one.Cycle == other.Cycle || one.Cycle == next.Cycle {
		t.Errorf("got %q for three", one.Cycle)
	}
	if one.Purpose() != Handbook || !strings.HasPrefix(one.Cycle, "HANDBOOK.3-") || strings.ContainsAny(one.Cycle, "/ ") {
		t.Errorf("got %q for %v", one.Cycle, one.Purpose())
	}
	d := Draft{Vehicle: Vehicle{Serial: "AM0147P"}, To: Recipient{Person: "p1"}, Channel: Mail, Stage: Due, Lines: []Line{{one, Due}}, Purpose: Handbook}
	if id := d.NoticeID(1); id != "AM0147P."+one.Cycle+".handbook-due.mail.p1" {
		t.Errorf("the notice is %q", id)
	}
}

// What was asked for is not held or covered by what holds reminders; it goes to
// nobody who has the vehicle no more.
func TestTheLastLookAtAHandbook(t *testing.T) {
	owner := reachable("p1", "owner")
	item := HandoutItem(Handout{Issue: 3}, "request", day("2027-05-01"))
	mail := Notice{Serial: "AM0147P", Person: "p1", Channel: Mail, Purpose: Handbook, State: Claimed, Lines: []ToldLine{{Cycle: item.Cycle, Stage: Due}}}
	text, letter := mail, mail
	text.Channel, letter.Channel = Text, Letter
	texting := owner
	texting.Asked = []Channel{Text}
	gone := owner
	gone.Asked = nil
	for _, c := range []struct {
		name   string
		people []Recipient
		n      Notice
		now    string
		change func(*Case)
		want   Verdict
	}{
		{"by day", []Recipient{owner}, mail, "2027-05-01T12:00:00Z", nil, Send},
		{"a mail goes at night too", []Recipient{owner}, mail, "2027-05-01T03:00:00Z", nil, Send},
		{"a text message wakes nobody", []Recipient{texting}, text, "2027-05-01T03:00:00Z", nil, Hold},
		{"a letter waits for nothing", []Recipient{owner}, letter, "2027-05-01T03:00:00Z", nil, Send},
		{"an opt-out is of reminders", []Recipient{owner}, mail, "2027-05-01T12:00:00Z", func(c *Case) { c.OptOuts = map[string]bool{"p1": true} }, Send},
		{"a lay-up holds nothing", []Recipient{owner}, mail, "2027-05-01T12:00:00Z", func(c *Case) { c.Vehicle.LayUpFrom = day("2027-04-01") }, Send},
		{"who has it no more", nil, mail, "2027-05-01T12:00:00Z", nil, Silence},
		{"whose address is dead by now", []Recipient{gone}, mail, "2027-05-01T12:00:00Z", nil, Silence},
		{"of a scrapped vehicle", []Recipient{owner}, mail, "2027-05-01T12:00:00Z", func(c *Case) { c.Vehicle.Scrapped = true }, Silence},
	} {
		ask := Case{Vehicle: Vehicle{Serial: "AM0147P"}, People: c.people, Now: at(c.now)}
		if c.change != nil {
			c.change(&ask)
		}
		if _, got := ask.LastLook(c.n, c.n.MayHaveArrived()); got != c.want {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
}

// What somebody asked for goes another way where one is left, as reminders do, and
// the works is told either way.
func TestAHandbookThatIsRefusedGoesTheNextWay(t *testing.T) {
	owner := reachable("p1", "owner")
	n := Notice{Serial: "AM0147P", Person: "p1", Channel: Mail, Purpose: Handbook, State: Parked, Lines: []ToldLine{{Cycle: "HANDBOOK.3-abc", Stage: Due}}}
	if got := n.Reroute(owner, nil); got.State != Rerouted {
		t.Errorf("it is %v", got.State)
	}
	if got := n.Reroute(Recipient{Person: "p1", Asked: []Channel{Mail}}, nil); got.State != Parked {
		t.Errorf("with no other way it is %v", got.State)
	}
	tried := Claim{Cycle: "HANDBOOK.3-abc", Stage: Due, Channel: Letter, Person: "p1", Failed: true}
	if got := n.Reroute(Recipient{Person: "p1", Asked: []Channel{Mail, Letter}}, []Claim{tried}); got.State != Parked {
		t.Errorf("where the other failed too it is %v", got.State)
	}
	sent := n
	sent.State = Sent
	after, effect := sent.AfterReturn(Return{Kind: Failed, Time: at("2027-05-01T12:00:00Z"), Text: "5.1.1"}, owner, nil)
	if after.State != Rerouted || !effect.AddressDead || effect.Task != AddressDead {
		t.Errorf("a failure that came back: %v, %+v", after.State, effect)
	}
	if _, effect := sent.AfterReturn(Return{Kind: Complaint, Time: at("2027-05-01T12:00:00Z")}, owner, nil); effect.OptOut || effect.Task != Complained {
		t.Errorf("a complaint: %+v", effect)
	}
}
