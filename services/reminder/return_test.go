package reminder

import (
	"strings"
	"testing"
)

func TestWhatComesBackMovesANotice(t *testing.T) {
	oil, fluid := item("E01", "2027-05-01"), item("B03", "2027-05-20")
	now := at("2027-04-02T12:00:00Z")
	sent := Notice{ID: "AM0147P.E01.2026-05-01.early.mail.p0031", Serial: "AM0147P", Person: "p0031", Channel: Mail, State: Sent, Lines: []ToldLine{{Cycle: oil.Cycle, Stage: Early}, {Cycle: fluid.Cycle, Stage: Early}}}
	in := func(s State) Notice { n := sent; n.State = s; return n }
	both, only := []Channel{Mail, Letter}, []Channel{Mail}
	safety := sent
	safety.Purpose = Safety
	for _, c := range []struct {
		name   string
		n      Notice
		kind   ReturnKind
		ways   []Channel
		claims []Claim
		want   State
		effect Effect
	}{
		{"it failed for good, and a letter can go", sent, Failed, both, nil, Rerouted, Effect{AddressDead: true, Task: AddressDead}},
		{"it failed for good, and nothing is left", sent, Failed, only, nil, Parked, Effect{AddressDead: true, Task: AddressDead}},
		{"nothing is left where the letter failed before", sent, Failed, both, []Claim{failedBy(Letter, oil, Early, "2027-04-01")}, Parked, Effect{AddressDead: true, Task: AddressDead}},
		{"nor where it failed for one of the lines", sent, Failed, both, []Claim{failedBy(Letter, fluid, Early, "2027-04-01")}, Parked, Effect{AddressDead: true, Task: AddressDead}},
		{"where it failed for another stage it may go", sent, Failed, both, []Claim{failedBy(Letter, oil, Due, "2027-04-01")}, Rerouted, Effect{AddressDead: true, Task: AddressDead}},
		{"a full mailbox keeps its address", sent, GivenUp, both, nil, Rerouted, Effect{}},
		{"a full mailbox and nothing left", sent, GivenUp, only, nil, Parked, Effect{Task: NoticeParked}},
		{"delayed changes nothing", sent, Delayed, both, nil, Sent, Effect{}},
		{"relayed changes nothing", sent, Relayed, both, nil, Sent, Effect{}},
		{"delivered changes nothing", sent, Delivered, both, nil, Sent, Effect{}},
		{"a machine's answer changes nothing", sent, AutoReply, both, nil, Sent, Effect{}},
		{"a person's answer is for the works", sent, Reply, both, nil, Sent, Effect{Task: Answered}},
		{"a complaint ends it", sent, Complaint, both, nil, Sent, Effect{OptOut: true, Task: Complained}},
		{"but not for safety", safety, Complaint, both, nil, Sent, Effect{Task: Complained}},
		{"a failure of what is tried again", in(Waiting), Failed, both, nil, Rerouted, Effect{AddressDead: true, Task: AddressDead}},
		{"a failure of what a crash left", in(Claimed), Failed, only, nil, Parked, Effect{AddressDead: true, Task: AddressDead}},
		{"a failure of what was silenced changes no state", in(Silenced), Failed, both, nil, Silenced, Effect{AddressDead: true, Task: AddressDead}},
		{"a second failure neither", in(Rerouted), Failed, both, nil, Rerouted, Effect{AddressDead: true, Task: AddressDead}},
	} {
		to := margaret
		to.Ways = c.ways
		back := Return{Kind: c.kind, Time: now, Text: "5.1.1 no such user"}
		got, effect := c.n.AfterReturn(back, to, c.claims)
		if got.State != c.want || effect != c.effect || len(got.Returns) != 1 || got.Returns[0] != back {
			t.Errorf("%s: got state %d, %+v, %v; want %d, %+v", c.name, got.State, effect, got.Returns, c.want, c.effect)
		}
		if again, _ := got.AfterReturn(back, to, c.claims); len(again.Returns) != 1 || again.State != got.State {
			t.Errorf("%s: the same return again gave %+v", c.name, again)
		}
	}
}

func TestAParkedNoticeIsReroutedWhereAnotherWayIsLeft(t *testing.T) {
	oil := item("E01", "2027-05-01")
	n := Notice{ID: "n", Serial: "AM0147P", Person: "p0031", Channel: Mail, State: Parked, Lines: []ToldLine{{Cycle: oil.Cycle, Stage: Early}}}
	year := n
	year.Purpose = YearLetter
	only := margaret
	only.Ways = []Channel{Mail}
	for _, c := range []struct {
		name string
		n    Notice
		to   Recipient
		want State
	}{
		{"a letter can go", n, margaret, Rerouted},
		{"nothing else can", n, only, Parked},
		{"the letter of a year has its own ways", year, margaret, Parked},
		{"what is not parked is left alone", Notice{State: Waiting, Channel: Mail, Lines: n.Lines}, margaret, Waiting},
	} {
		if got := c.n.Reroute(c.to, nil); got.State != c.want {
			t.Errorf("%s: got %d, want %d", c.name, got.State, c.want)
		}
	}
}

func TestTasksOfANotice(t *testing.T) {
	n := Notice{ID: "AM0147P.E01.2026-05-01.early.mail.p0031", Serial: "AM0147P", Person: "p0031", Channel: Mail, State: Rerouted, ServerAnswer: "550 no"}
	for kind, want := range map[TaskKind]string{
		NoticeParked: "could not be delivered (550 no). It is told another way.", AddressDead: "the mail address of people/p0031 leads nowhere. It is told another way.",
		Complained: "was called unwanted", Answered: "answered a notice about AM0147P",
		LetterIncomplete: "The letter about AM0147P to people/p0031 has characters for which the printer has no sign",
	} {
		task := n.Task(kind, 1, at("2027-04-02T12:00:00Z"))
		if task.ID != n.ID+"."+kind.word() || task.Kind != kind || task.Notice != n.ID || task.Serial != n.Serial || !strings.Contains(task.Text, want) {
			t.Errorf("%s: got %+v, want %q", kind, task, want)
		}
		if second := n.Task(kind, 2, at("2027-04-02T12:00:00Z")); second.ID != task.ID+".2" {
			t.Errorf("%s: got %s", kind, second.ID)
		}
	}
	n.State = Parked
	if text := n.Task(AddressDead, 1, n.Claimed).Text; strings.Contains(text, "another way") {
		t.Errorf("a parked one: %s", text)
	}
}
