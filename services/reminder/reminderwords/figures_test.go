package reminderwords

import (
	"strings"
	"testing"

	"halfshaft/services/internal/locale"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

func TestFiguresInTextsAreWrittenInTheReadersHabit(t *testing.T) {
	for _, c := range []struct{ text, of, formats, want string }{
		{"Nicht über 14,8 V.", "de", "de-DE", "Nicht über 14,8 V."},
		{"Nicht über 14,8 V.", "de", "de-CH", "Nicht über 14.8 V."},
		{"Motor heiß, 2.000 U/min.", "de", "de-CH", "Motor heiß, 2’000 U/min."},
		{"Motor heiß, 2.000 U/min", "de", "en-GB", "Motor heiß, 2,000 U/min"},
		{"Not above 14.8 V; 2,000 rev/min", "en", "de-DE", "Not above 14,8 V; 2.000 rev/min"},
		{"Not above 14.8 V; 2,000 rev/min", "en", "en-US", "Not above 14.8 V; 2,000 rev/min"},
		{"cold, 15 to 25 °C; pull with 100 N", "en", "de-DE", "cold, 15 to 25 °C; pull with 100 N"},
		// Names are no figures, and what is written otherwise is left alone.
		{"DOT 3, 4 or 5.1 (glycol), SAE 80W-90, NLGI 0/00, ASTM D3306", "en", "de-DE", "DOT 3, 4 or 5.1 (glycol), SAE 80W-90, NLGI 0/00, ASTM D3306"},
		{"Not above 14,8 V", "en", "de-DE", "Not above 14,8 V"},
		{"5.1 Vehicles", "en", "de-DE", "5.1 Vehicles"},
	} {
		if got := refigured(c.text, c.of, locale.For("de", c.formats, "")); got != c.want {
			t.Errorf("%q for %s: got %q, want %q", c.text, c.formats, got, c.want)
		}
	}
}

func TestAMailHasOneDecimalMark(t *testing.T) {
	r := renderer(t, aldermoorWords)
	l := inGerman(letter(reminder.Due, item(t, "X01"), item(t, "E01")))
	l.Draft.To.Language = "de-CH"
	got := said(t, r, l)
	for _, want := range []string{"Nicht über 14.8 V.", "mindestens 12.6 V", "2.4 bis 4.1 bar (35 bis 60 psi)", "2’000 U/min", "von etwa 4’800 km"} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in %s", want, got)
		}
	}
	if got := r.Item("de-CH", "X01", "caution", item(t, "X01").Caution); !strings.Contains(got, "14.8 V") {
		t.Errorf("the page says %q", got)
	}
}

func TestReadersOfKilometresGetPressuresInBar(t *testing.T) {
	// 1 psi is 6.894757 kPa (NIST SP 811, B.8): 35 psi are 2.413 bar, 60 psi
	// 4.137, 20 psi 1.379.
	r := renderer(t, nil)
	oil := reminder.Measure{Characteristic: "hot oil pressure", Unit: "psi", Lower: "35", Upper: "60"}
	tyre := reminder.Measure{Characteristic: "pressure", Unit: "psi", Lower: "23", Action: "20"}
	kilometres := earlyOil(t)
	kilometres.Draft.To.Unit = vehicle.Kilometres
	for _, c := range []struct {
		letter  Letter
		measure reminder.Measure
		want    string
	}{
		{earlyOil(t), oil, "hot oil pressure: 35 to 60 psi"},
		{kilometres, oil, "hot oil pressure: 2.4 to 4.1 bar (35 to 60 psi)"},
		{kilometres, tyre, "pressure: at least 1.6 bar (23 psi); at 1.4 bar (20 psi) or less, ask us before anything is changed"},
		{kilometres, reminder.Measure{Characteristic: "gap", Unit: "mm", Lower: "0.35", Upper: "0.40"}, "gap: 0.35 to 0.40 mm"},
		{kilometres, reminder.Measure{Characteristic: "pressure", Unit: "psi"}, "pressure in psi"},
	} {
		if got := writerOf(t, r, c.letter).measure(c.measure); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
	change := Change{Characteristic: "pressure", Unit: "psi", Before: "30", Now: "23", BeforeDate: day(2026, 1, 1), NowDate: day(2026, 6, 1), Lower: "28", Upper: "32"}
	if got, want := writerOf(t, r, kilometres).change(change), "pressure: 1.6 bar (23 psi) on 1 June 2026, before 2.1 bar (30 psi) on 1 January 2026; good from 1.9 to 2.2 bar (28 to 32 psi)"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestTheYearsReadingsAreInTheReadersUnitFirst(t *testing.T) {
	r := renderer(t, nil)
	l := wholeYear(t)
	l.Draft.To.Unit = vehicle.Kilometres
	if got := said(t, r, l); !strings.Contains(got, "2 March 2026: 16,254 km (10,100 miles)") {
		t.Errorf("got %s", got)
	}
}
