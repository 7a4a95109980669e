package exchange

import (
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

func TestADateIsReadOnlyWhereItCanMeanOneDay(t *testing.T) {
	for _, c := range []struct{ text, want, refused string }{
		{text: "2020-04-03", want: "2020-04-03"},
		{text: "2020/4/3", want: "2020-04-03"},
		{text: "2020.04.03", want: "2020-04-03"},
		{text: "3 April 2020", want: "2020-04-03"},
		{text: "3-Apr-2020", want: "2020-04-03"},
		{text: "3rd apr. 2020", want: "2020-04-03"},
		{text: "April 3, 2020", want: "2020-04-03"},
		{text: "May 3 2020", want: "2020-05-03"},
		{text: "2020-04-03T14:30:00", want: "2020-04-03"}, // as a date cell with a time comes
		{text: "29 February 2024", want: "2024-02-29"},
		{text: "03/04/2020", refused: "2020-04-03 or 2020-03-04: the year first"},
		{text: "3.4.2020", refused: "2020-04-03 or 2020-03-04: the year first"},
		{text: "25/12/2020", refused: "2020-12-25: the year first"},
		{text: "12/25/2020", refused: "2020-12-25: the year first"},
		{text: "04/04/2020", refused: "2020-04-04: the year first"},
		{text: "31/31/2020", refused: "a day of the calendar"},
		{text: "29 February 2023", refused: "a day of the calendar"}, // 2023 is no leap year
		{text: "3 Aprilis 2020", refused: "a day of the calendar"},
		{text: "3 Mai 2020", refused: "a day of the calendar"},
		{text: "2020-04", refused: "the year first: 2020-04-03"},
		{text: "April 2020", refused: "the year first: 2020-04-03"},
		{text: "03/04/20", refused: "the year first: 2020-04-03"},
		{text: "20200403", refused: "the year first: 2020-04-03"},
		{text: "43924", refused: "the year first: 2020-04-03"},
	} {
		got, bad := readDate(c.text)
		switch {
		case bad == nil && got.String() != c.want:
			t.Errorf("%q is %s, want %q%s", c.text, got, c.want, c.refused)
		case bad != nil && (c.refused == "" || !strings.Contains(bad.want, c.refused)):
			t.Errorf("%q was refused with %q, want %q%s", c.text, bad.want, c.want, c.refused)
		}
	}
}

func TestADistanceIsReadWithItsUnit(t *testing.T) {
	for _, c := range []struct {
		text, unit string
		mm         int64 // 1,609,344 mm a mile: NIST SP 811, checks.md O-18
		refused    string
	}{
		{text: "12345.6 mi", mm: 19_868_317_286}, // 19,868.3172864 km: O-18
		{text: "20000km", mm: 20_000_000_000},
		{text: "1200", unit: "miles", mm: 1_931_212_800},
		{text: "1200 km", unit: "km", mm: 1_200_000_000},
		{text: "0 mi", mm: 0},
		{text: "1609344 mm", mm: 1_609_344},
		{text: "1200", refused: "a number and mi or km"},
		{text: "12,345 mi", refused: "without a thousands mark"},
		{text: "1200 km", unit: "mi", refused: "a number and mi or km"},
		{text: "-5 mi", refused: "0 or more"},
		{text: "1200 m", refused: "mi or km"},
		{text: "12 furlongs", refused: "mi or km"},
		{text: "99999999999999 mi", refused: "that a vehicle can cover"},
	} {
		got, bad := readDistance(c.text, c.unit)
		switch {
		case bad == nil && (c.refused != "" || got.mm != c.mm):
			t.Errorf("%q %q is %d mm, want %d%s", c.text, c.unit, got.mm, c.mm, c.refused)
		case bad != nil && (c.refused == "" || !strings.Contains(bad.want, c.refused)):
			t.Errorf("%q %q was refused with %q, want %q", c.text, c.unit, bad.want, c.refused)
		}
	}
}

func TestAMeasuredValueKeepsItsDigits(t *testing.T) {
	for _, c := range []struct{ text, unit, want, refused string }{
		{"0.10 mm", "", "0.10 mm", ""},
		{"0.10", "mm", "0.10 mm", ""},
		{"0.10mm", "mm", "0.10 mm", ""},
		{"-0.05 mm", "", "-0.05 mm", ""},
		{"0,10 mm", "", "", "a number with a point and its unit"},
		{"0.10", "", "", "a number with a point and its unit"},
		{"0.10 in", "mm", "", "the unit mm, as the column for the unit says"},
	} {
		got, bad := readMeasure(c.text, c.unit)
		if bad != nil && (c.refused == "" || !strings.Contains(bad.want, c.refused)) || bad == nil && got.String() != c.want {
			t.Errorf("%q %q is %s %v, want %s%s", c.text, c.unit, got, bad, c.want, c.refused)
		}
	}
}

func TestKitsAreReadHoweverPeopleCount(t *testing.T) {
	got, bad := readKit("AP-2050 x2; AP-2051, parts/AP-2052 ×3\nAP-2053 4; AP-2054 X 5")
	want := []kitPart{{"AP-2050", 2}, {"AP-2051", 1}, {"AP-2052", 3}, {"AP-2053", 4}, {"AP-2054", 5}}
	if bad != nil || len(got) != len(want) {
		t.Fatal(got, bad)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("got %v, want %v", got[i], want[i])
		}
	}
	if _, bad := readKit("two of AP-2050"); bad == nil {
		t.Error("words were taken for a part")
	}
}

func TestNoTextIsTakenForAFormula(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := plain(rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"=cmd()", "+1", "-1", "@x", "\tx", "'=x", "''=x", "'", "' ", "'a", "a "})).Draw(t, "text"))
		cell := escape(text)
		if cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
			t.Errorf("%q is written as %q", text, cell)
		}
		if got := unescape(cell); got != text && strings.TrimSpace(text) != "" {
			t.Errorf("%q came back as %q", text, got)
		}
	})
}

func TestAListOfTextsComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.SliceOf(anyLine).Draw(t, "lines")
		got := splitLines(joinLines(want))
		if strings.Join(got, "\x00") != strings.Join(want, "\x00") {
			t.Errorf("%q came back as %q", want, got)
		}
	})
}

func TestASerialIsHeldToItsCheckCharacter(t *testing.T) {
	_, faults := collect("readings", "serial,reading date,value", "AM0147Q,2020-04-03,1200 mi", "AM-147,2020-04-03,1200 mi")
	if len(faults) != 2 || !strings.Contains(faults[0].Want, "the one of AM0147 is P") || !strings.Contains(faults[1].Want, "a serial") {
		t.Errorf("got %v", faults)
	}
}

func FuzzCells(f *testing.F) {
	for _, seed := range []string{"2020-04-03", "03/04/2020", "3 April 2020", "0.10 mm", "12345.6 mi", "AP-2050 x2; AP-2051", `a\;b; c`, "'=x", "yes", "am-0147 p", "2026-11-25T08:00:00Z"} {
		f.Add(seed, "mm")
	}
	f.Fuzz(func(t *testing.T, text, unit string) {
		if clean, bad := readText(text); bad == nil && (!utf8.ValidString(clean) || clean != plain(clean)) {
			t.Errorf("%q was let pass as %q", text, clean)
		}
		if d, bad := readDate(text); bad == nil {
			if again, err := vehicle.ParseDate(d.String()); err != nil || again != d {
				t.Errorf("%q became %s", text, d)
			}
		}
		if d, bad := readDistance(text, unit); bad == nil && d.mm < 0 {
			t.Errorf("%q is %d mm", text, d.mm)
		}
		if q, bad := readMeasure(text, unit); bad == nil {
			if again, bad := readMeasure(q.String(), ""); bad != nil || again != q {
				t.Errorf("%q became %s, then %s", text, q, again)
			}
		}
		for _, table := range Tables() {
			for i := range table.Columns {
				c := &table.Columns[i]
				if clean, bad := readText(text); bad == nil && c.Path != "" && strings.TrimSpace(clean) != "" {
					c.fill(table.message.New(), table.ordered[i], unescape(clean), unit)
				}
			}
		}
	})
}
