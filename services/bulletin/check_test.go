package bulletin_test

import (
	"fmt"
	"strings"
	"testing"

	"halfshaft/services/bulletin"
	"halfshaft/services/fault"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

func TestWhatIsRefusedOfADraft(t *testing.T) {
	deep := bulletin.Condition{Markets: []string{"GB"}}
	for range 13 {
		inner := deep
		deep = bulletin.Condition{Not: &inner}
	}
	when := func(c bulletin.Condition) func(*bulletin.Bulletin) {
		return func(b *bulletin.Bulletin) { b.Set.When = &c }
	}
	for _, c := range []struct {
		name   string
		change func(*bulletin.Bulletin)
		says   string // empty: it is right
	}{
		{"nothing", func(*bulletin.Bulletin) {}, ""},
		{"a list alone", func(b *bulletin.Bulletin) { b.Set = bulletin.Set{Serials: []vehicle.Serial{"AM0147P"}} }, ""},
		{"no set", func(b *bulletin.Bulletin) { b.Set = bulletin.Set{} }, "set: got nothing, want a list of serials"},
		{"a wrong serial", func(b *bulletin.Bulletin) { b.Set.Serials = []vehicle.Serial{"AM0147P", "AM0147Q"} }, `set.serials[1]: got "AM0147Q"`},
		{"a serial twice", func(b *bulletin.Bulletin) { b.Set.Except = []vehicle.Serial{"AM0147P", "AM0147P"} }, "set.except_serials[1]"},
		{"a name with a dot, which letters use", func(b *bulletin.Bulletin) { b.ID = "C.1" }, `name: got "bulletins/C.1/versions/1"`},
		{"no kind", func(b *bulletin.Bulletin) { b.Kind = 0 }, "kind: got"},
		{"stop-use without what to do meanwhile", func(b *bulletin.Bulletin) { b.Meanwhile = "" }, "meanwhile: got nothing"},
		{"stop-use without a caution", func(b *bulletin.Bulletin) { b.Caution = " " }, "caution: got"},
		{"a campaign without a remedy", func(b *bulletin.Bulletin) { b.Remedy = nil }, "remedy: got nothing"},
		{"advice without one", func(b *bulletin.Bulletin) { b.Remedy, b.Kind = nil, bulletin.Advice }, ""},
		{"letters that end where somebody can be hurt", func(b *bulletin.Bulletin) { b.Plan.RepeatDays = bulletin.NoRepeat }, "follow_up.repeat_days"},
		{"letters that end where nobody can", func(b *bulletin.Bulletin) {
			b.Plan.RepeatDays, b.StopUse, b.HoldDelivery = bulletin.NoRepeat, false, false
		}, ""},
		{"letters each day", func(b *bulletin.Bulletin) { b.Plan.RepeatDays = 1 }, "follow_up.repeat_days"},
		{"letters that go back", func(b *bulletin.Bulletin) { b.Plan.LetterDays = []int{0, 30, 30} }, "follow_up.letter_days[2]"},
		{"a report before there was a fault", func(b *bulletin.Bulletin) {
			b.Determined, b.Reported = day(2026, 3, 2), day(2026, 3, 1)
		}, "report_date"},
		{"an item twice", func(b *bulletin.Bulletin) { b.Remedy = append(b.Remedy, b.Remedy[0]) }, "remedy[1].item_id"},
		{"no pieces", func(b *bulletin.Bulletin) { b.Remedy[0].Parts[0].Quantity = 0 }, "remedy[0].parts[0].quantity"},
		{"a value without a limit", func(b *bulletin.Bulletin) {
			b.Remedy[0].Measured = []schedule.MeasuredLimit{{Characteristic: "end-float", Unit: "mm"}}
		}, "remedy[0].measured[0]"},
		{"two conditions in one", when(bulletin.Condition{Markets: []string{"GB"}, Wheelbases: []string{"short"}}), "set.condition: got \"2 conditions\", want exactly one"},
		{"none at all", when(bulletin.Condition{All: []bulletin.Condition{{}}}), "set.condition.all.conditions[0]"},
		{"all of nothing", when(bulletin.Condition{All: []bulletin.Condition{}}), "set.condition.all.conditions: got nothing"},
		{"a lot of any unit", when(bulletin.Condition{Fitted: &bulletin.FittedUnit{Lots: []string{"L07"}}}), "set.condition.fitted"},
		{"a lot of nothing but hyphens", when(bulletin.Condition{Fitted: &bulletin.FittedUnit{Position: "gearbox", Lots: []string{"--"}}}), "set.condition.fitted.lots[0]"},
		{"a range the wrong way round", when(bulletin.Condition{Serials: &bulletin.SerialRange{First: issuedSerials[9], Last: issuedSerials[3]}}), "set.condition.serials.last"},
		{"days the wrong way round", when(bulletin.Condition{Built: &bulletin.DateRange{Start: day(2026, 2, 1), End: day(2026, 1, 1)}}), "set.condition.built.end_date"},
		{"a wrong expression", when(bulletin.Condition{Not: &bulletin.Condition{Expression: "engine == 1"}}), "set.condition.not.expression"},
		{"a use that is none", when(bulletin.Condition{Use: &bulletin.UseCondition{Kinds: []schedule.UseKind{99}}}), "set.condition.use.kinds[0]"},
		{"too deep", when(deep), "12 deep"},
		{"everything at once", func(b *bulletin.Bulletin) { b.Title, b.Fault = "", "" }, "title: got nothing, want text; fault: got nothing, want text"},
	} {
		b := relays(false)
		c.change(&b)
		err := b.Check(compiler(t))
		switch {
		case c.says == "" && err != nil:
			t.Errorf("%s: refused: %v", c.name, err)
		case c.says != "" && (!fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.says)):
			t.Errorf("%s: got %v, want %q", c.name, err, c.says)
		}
	}
}

func TestABulletinIsSignedIssuedAndReplaced(t *testing.T) {
	b := relays(false)
	b.Sample = false
	if _, err := b.Issue(entered, compiler(t)); !fault.Is(err, fault.Invalid) || !strings.Contains(fmt.Sprint(err), "signed_by") {
		t.Errorf("issued unsigned: %v", err)
	}
	b.SignedBy = "P. Arkwright"
	issued, err := b.Issue(entered, compiler(t))
	if err != nil || issued.State != bulletin.Issued || issued.Issued != entered || b.State != bulletin.Draft {
		t.Fatalf("%+v, %v", issued.State, err)
	}
	if _, err := issued.Issue(entered, compiler(t)); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("issued twice: %v", err)
	}
	next := issued.Next()
	if next.Version != 2 || next.State != bulletin.Draft || next.SignedBy != "" || !next.Issued.IsZero() || next.Name() != "bulletins/C-2026-02/versions/2" {
		t.Errorf("the next version: %+v", next)
	}
	old, err := issued.Supersede()
	if err != nil || old.State != bulletin.Superseded || old.SupersededBy != "C-2026-02" || old.Fault != issued.Fault {
		t.Errorf("superseded: %+v, %v", old, err)
	}
	if _, err := issued.Withdraw(" ", ""); !fault.Is(err, fault.Invalid) {
		t.Errorf("withdrawn without a reason: %v", err)
	}
	if _, err := issued.Withdraw("no fault", "C-2026-02"); !fault.Is(err, fault.Invalid) {
		t.Errorf("replaced by itself: %v", err)
	}
	gone, err := issued.Withdraw("no fault was found", "")
	if err != nil || gone.State != bulletin.Withdrawn || gone.WithdrawReason == "" {
		t.Errorf("withdrawn: %+v, %v", gone, err)
	}
	if replaced, err := issued.Withdraw("another remedy", "C-2026-05"); err != nil || replaced.State != bulletin.Superseded || replaced.SupersededBy != "C-2026-05" {
		t.Errorf("replaced: %+v, %v", replaced, err)
	}
	for _, x := range []bulletin.Bulletin{b, old, gone} {
		if _, err := x.Withdraw("late", ""); !fault.Is(err, fault.FailedPrecondition) {
			t.Errorf("state %d withdrawn: %v", x.State, err)
		}
	}
	if !gone.Safety() || (&bulletin.Bulletin{}).Safety() {
		t.Error("safety is hold on delivery or stop-use")
	}
}
