package reminder

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"halfshaft/services/fault"
)

func TestAnAnswerIsHeldToTheVehicleAndTheDay(t *testing.T) {
	oil, brakes, read := item("E01", "2027-05-01"), item("B01", "2027-05-10"), Item{ID: "READ", Cycle: "READ.1", Reading: true, ActBy: day("2027-04-01")}
	brakes.Class = Vital
	v := Vehicle{Serial: "AM0147P", Items: []Item{oil, brakes, read, YearItem(2026), {ID: "Z", Cycle: "Z.1"}}}
	e01, b01 := oil.Cycle, brakes.Cycle
	for _, c := range []struct {
		name   string
		kind   AnswerKind
		on     string
		cycles []string
		want   string // "" for none
	}{
		{"booked for today", Booked, "2027-04-20", []string{e01}, ""},
		{"booked half a year ahead", Booked, "2027-10-17", []string{e01, b01}, ""},
		{"booked further ahead", Booked, "2027-10-18", []string{e01}, `answer_date: got "2027-10-18", want a day from 2027-04-20 to 2027-10-17`},
		{"booked for yesterday", Booked, "2027-04-19", []string{e01}, `answer_date: got "2027-04-19", want a day from 2027-04-20 to 2027-10-17`},
		{"put off for 180 days", Snoozed, "2027-10-17", []string{e01}, ""},
		{"put off for longer", Snoozed, "2027-10-18", []string{e01}, `answer_date: got "2027-10-18", want a day from 2027-04-21 to 2027-10-17`},
		{"put off until today", Snoozed, "2027-04-20", []string{e01}, `answer_date: got "2027-04-20", want a day from 2027-04-21 to 2027-10-17`},
		{"safety put off for 30 days", Snoozed, "2027-05-20", []string{b01}, ""},
		{"safety put off for longer", Snoozed, "2027-05-21", []string{b01}, `answer_date: got "2027-05-21", want a day from 2027-04-21 to 2027-05-20`},
		{"also together with something else", Snoozed, "2027-05-21", []string{e01, b01}, `answer_date: got "2027-05-21", want a day from 2027-04-21 to 2027-05-20`},
		{"done today", Done, "2027-04-20", []string{e01}, ""},
		{"done tomorrow", Done, "2027-04-21", []string{e01}, `answer_date: got "2027-04-21", want a day from 2026-05-01 to 2027-04-20`},
		{"done before the round began", Done, "2026-04-30", []string{e01}, `answer_date: got "2026-04-30", want a day from 2026-05-01 to 2027-04-20`},
		{"no day", Done, "", []string{e01}, `answer_date: got nothing, want a day from 2026-05-01 to 2027-04-20`},
		{"no kind", 0, "2027-04-20", []string{e01}, `kind: got "0", want booked, snoozed or done`},
		{"no rounds", Done, "2027-04-20", nil, `cycles: got "0 of them", want 1 to 40`},
		{"too many", Done, "2027-04-20", slices.Repeat([]string{e01}, 41), `cycles: got "41 of them", want 1 to 40`},
		{"one round twice", Done, "2027-04-20", []string{e01, e01}, `cycles[1]: got "E01.2026-05-01", want each round once`},
		{"an earlier round", Done, "2027-04-20", []string{"E01.2025-05-01"}, `cycles[0]: got "E01.2025-05-01", want a round of this vehicle that is open`},
		{"a round with nothing to do", Done, "2027-04-20", []string{"Z.1"}, `cycles[0]: got "Z.1", want a round of this vehicle that is open`},
		{"the letter of a year", Snoozed, "2027-04-21", []string{"YEAR.2026"}, `cycles[0]: got "YEAR.2026", want a round of this vehicle that is open`},
		{"a reading that is booked", Booked, "2027-04-20", []string{e01, "READ.1"}, `cycles[1]: got "READ.1", want a round of work: a reading is reported or put off`},
		{"a reading that is put off", Snoozed, "2027-04-21", []string{"READ.1"}, ""},
	} {
		a := Answer{Kind: c.kind, Cycles: c.cycles}
		if c.on != "" {
			a.Day = day(c.on)
		}
		err := a.Check(v, day("2027-04-20"))
		if got := errorText(err); !strings.Contains(got, c.want) || (err == nil) != (c.want == "") {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
	long := Answer{Kind: Booked, Cycles: []string{e01}, Day: day("2027-04-20"), Workshop: strings.Repeat("é", 201)}
	if got := errorText(long.Check(v, day("2027-04-20"))); got != `workshop: got "201 characters", want at most 200 characters` {
		t.Errorf("got %q", got)
	}
	all := Answer{Kind: 9, Day: day("2030-01-01"), Workshop: long.Workshop, Note: strings.Repeat("n", mostNote+1)}
	var refusal *fault.Error
	if err := all.Check(v, day("2027-04-20")); !errors.As(err, &refusal) || len(refusal.Fields) != 5 || refusal.Kind != fault.Invalid {
		t.Errorf("not everything is named at once: %v", err)
	}
}

func errorText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

func TestUntilWhenAnAnswerSilences(t *testing.T) {
	for kind, want := range map[AnswerKind]string{Booked: "2027-05-08", Snoozed: "2027-05-01", Done: ""} {
		if got := (Answer{Kind: kind, Day: day("2027-05-01")}).Until().String(); got != want {
			t.Errorf("kind %d: until %s, want %s", kind, got, want)
		}
	}
}

func TestTheTaskOfWorkSaidToBeDone(t *testing.T) {
	a := Answer{ID: "0192f0", Serial: "AM0147P", Kind: Done, Cycles: []string{"E01.2026-05-01"}, Day: day("2027-04-20"), Workshop: "Hale's, 12 Harbour Street", Notice: "n"}
	task := a.SaidDoneTask(at("2027-04-21T12:00:00Z"))
	if task.ID != "AM0147P.0192f0.said-done" || task.Kind != SaidDone || task.Notice != "n" || !strings.Contains(task.Text, "2027: E01.") || strings.Contains(task.Text, "Hale") {
		t.Errorf("got %+v", task)
	}
}

func TestACadenceIsHeldToItsBounds(t *testing.T) {
	for _, class := range Classes() {
		if err := Usual(class).Check(); err != nil {
			t.Errorf("%s: %v", class, err)
		}
	}
	if err := (Cadence{0, 1, 0, 1, 1}).Check(); err != nil {
		t.Error(err)
	}
	if err := (Cadence{120, 365, 365, 365, 90}).Check(); err != nil {
		t.Error(err)
	}
	low, high := Cadence{-1, 0, -1, 0, 0}.Check(), Cadence{121, 366, 366, 366, 91}.Check()
	for _, err := range []error{low, high} {
		var refusal *fault.Error
		if !errors.As(err, &refusal) || len(refusal.Fields) != 5 {
			t.Errorf("got %v", err)
		}
	}
	if got := errorText(low); !strings.HasPrefix(got, `early_days: got "-1", want 0 to 120; overdue_days: got "0", want 1 to 365; second_overdue_days: got "-1", want 0 to 365`) {
		t.Errorf("got %s", got)
	}
}

func TestEachClassHasItsCadence(t *testing.T) {
	own := Cadences{Routine: {Early: 60, Overdue: 1, Works: 1, Apart: 1}}
	for _, c := range []struct {
		class Class
		want  Cadence
	}{{"", own[Routine]}, {Routine, own[Routine]}, {Vital, Usual(Vital)}, {Seasonal, Usual(Seasonal)}} {
		if got := own.Of(c.class); got != c.want {
			t.Errorf("%q: got %+v, want %+v", c.class, got, c.want)
		}
	}
}
