package owner

import (
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

func on(text string) vehicle.Date {
	if text == "" {
		return vehicle.Date{}
	}
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

func tieOf(id, person string, role Role, start, end string) Tie {
	return Tie{Serial: "AM0147P", ID: id, Person: person, Role: role, Start: on(start), End: on(end)}
}

func TestASecondOwnerIsAdmittedOnlyWhenTheFirstIsGoneOrBothAreMeant(t *testing.T) {
	first := tieOf("1", "p1", Owner, "2020-06-01", "")
	gone := tieOf("1", "p1", Owner, "2020-06-01", "2026-11-25")
	for _, c := range []struct {
		name   string
		beside Tie
		tie    Tie
		joint  bool
		reason string
	}{
		{"beside a present owner", first, tieOf("2", "p2", Owner, "2026-11-25", ""), false, "OWNER_PRESENT"},
		{"jointly with a present owner", first, tieOf("2", "p2", Owner, "2026-11-25", ""), true, ""},
		{"on the day the first one's tie ended", gone, tieOf("2", "p2", Owner, "2026-11-25", ""), false, ""},
		{"the day before the first one's tie ended", gone, tieOf("2", "p2", Owner, "2026-11-24", ""), false, "OWNER_PRESENT"},
		{"an owner from before the first", first, tieOf("2", "p2", Owner, "2010-01-01", "2020-06-01"), false, ""},
		{"an owner from before who stayed a day too long", first, tieOf("2", "p2", Owner, "2010-01-01", "2020-06-02"), false, "OWNER_PRESENT"},
		{"a caretaker beside an owner", first, tieOf("2", "p2", Caretaker, "2026-11-25", ""), false, ""},
		{"the owner as payer too", first, tieOf("2", "p1", Payer, "2026-11-25", ""), false, ""},
		{"the same owner twice, though joint", first, tieOf("2", "p1", Owner, "2026-11-25", ""), true, "TIE_TWICE"},
		{"the same owner again later", gone, tieOf("2", "p1", Owner, "2027-01-01", ""), false, ""},
		{"two payers", tieOf("1", "p1", Payer, "2020-06-01", ""), tieOf("2", "p2", Payer, "2026-11-25", ""), false, ""},
		{"itself, as it stands", first, first, false, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := Admit([]Tie{c.beside}, c.tie, c.joint)
			got := ""
			if f, ok := err.(*fault.Error); ok {
				got = f.Reason
			}
			if got != c.reason {
				t.Errorf("got %v, want %q", err, c.reason)
			}
		})
	}
}

func TestATieEndsOnce(t *testing.T) {
	lasting := tieOf("1", "p1", Owner, "2020-06-01", "")
	ended, err := lasting.Ended(on("2026-11-25"))
	if err != nil || ended.Lasts(on("2026-11-25")) || !ended.Lasts(on("2026-11-24")) {
		t.Errorf("got %+v, %v", ended, err)
	}
	if _, err := ended.Ended(on("2027-01-01")); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("ending it again: got %v", err)
	}
	if _, err := lasting.Ended(on("2020-05-31")); !fault.Is(err, fault.Invalid) {
		t.Errorf("an end before its start: got %v", err)
	}
	if _, err := lasting.Ended(vehicle.Date{}); !fault.Is(err, fault.Invalid) {
		t.Errorf("no end: got %v", err)
	}
	if never, err := lasting.Ended(on("2020-06-01")); err != nil || never.Lasts(on("2020-06-01")) {
		t.Errorf("a tie made by mistake ends on its first day and never held: got %+v, %v", never, err)
	}
}

func TestATieIsCheckedByItself(t *testing.T) {
	if f := tieOf("1", "p1", Owner, "2020-06-01", "2020-06-01").Faults(); len(f) > 0 {
		t.Errorf("got %v", f)
	}
	if f := (Tie{Role: 9}).Faults(); len(f) != 2 || f[0].Name != "role" || f[1].Name != "start_date" {
		t.Errorf("got %v", f)
	}
	if f := tieOf("1", "p1", Owner, "2020-06-02", "2020-06-01").Faults(); len(f) != 1 || f[0].Name != "end_date" {
		t.Errorf("got %v", f)
	}
}

// A plain second implementation: look at each day.
func TestTwoOwnersAreRefusedExactlyWhenTheyShareADay(t *testing.T) {
	day := func(n int) vehicle.Date { return on("2026-01-01").AddDays(n) }
	rapid.Check(t, func(t *rapid.T) {
		draw := func(id string) Tie {
			x := Tie{ID: id, Person: id, Role: Owner, Start: day(rapid.IntRange(0, 12).Draw(t, "start"))}
			if rapid.Bool().Draw(t, "ended") {
				x.End = x.Start.AddDays(rapid.IntRange(0, 8).Draw(t, "length"))
			}
			return x
		}
		a, b := draw("a"), draw("b")
		shared := false
		for n := range 30 {
			shared = shared || a.Lasts(day(n)) && b.Lasts(day(n))
		}
		if refused := Admit([]Tie{a}, b, false) != nil; refused != shared {
			t.Fatalf("%+v beside %+v: refused %v, shared %v", b, a, refused, shared)
		}
		if refused := Admit([]Tie{b}, a, false) != nil; refused != shared {
			t.Fatalf("the other way round: refused %v, shared %v", refused, shared)
		}
	})
}
