package remindercalendar

import (
	"flag"
	"os"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

var update = flag.Bool("update", false, "write the golden files")

func day1(y int, m time.Month, d int) vehicle.Date { return vehicle.MustDate(y, m, d) }

// packhorse is the calendar of a vehicle with one visit, one span and one
// event that is off.
func packhorse() Calendar {
	stamp := time.Date(2026, 5, 1, 9, 30, 0, 0, time.FixedZone("", 2*3600))
	return Calendar{
		Name: "Packhorse AM0147P", Description: "Service dates; they move with the odometer.",
		Source: "https://aldermoor.example/calendar/opaquepart.ics",
		Events: []Event{
			{
				UID: "k3vq2nbd5xw7ayo4ht6zrmcuje@aldermoor.example", Stamp: stamp, First: day1(2026, 6, 12),
				Summary:     "Service due: engine oil; oil filter, gaskets",
				Description: "12 months since the last change; 180 miles driven.\nBack\\slash, then 0,18 mm.\r\n\r\nAsk the works: +44 1632 960983",
				Categories:  []string{"Service", "Oil; filters"}, URL: "https://aldermoor.example/s/abc?x=1;y=2,3",
			},
			{
				// RFC 5545 section 3.6.1: 28 June to 8 July 2007, both days included.
				UID: "span@aldermoor.example", Sequence: 7, Stamp: stamp, First: day1(2007, 6, 28), Last: day1(2007, 7, 8),
				Summary: "Winterruhe – Größe, 30 °C 🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧🔧", Status: Tentative,
			},
			{UID: "gone@aldermoor.example", Sequence: 2, Stamp: stamp, First: day1(2026, 12, 31), Summary: "Cancelled", Status: Cancelled},
		},
	}
}

func TestACalendarIsWrittenAsTheGoldenFile(t *testing.T) {
	got, err := Render(packhorse())
	if err != nil {
		t.Fatal(err)
	}
	const golden = "testdata/packhorse.ics"
	if *update {
		if err := os.WriteFile(golden, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), string(got)); diff != "" {
		t.Error(diff)
	}
	if Tag(got) != Tag(want) || Tag(got) == Tag(want[1:]) || !strings.HasPrefix(Tag(got), `"`) {
		t.Errorf("the tag is %s", Tag(got))
	}
	if strings.Contains(string(got), "METHOD") {
		t.Error("a feed has no METHOD")
	}
}

// rendered gives a calendar with one event of a summary and a description.
func rendered(t *testing.T, summary, description string) string {
	t.Helper()
	b, err := Render(Calendar{Name: "c", Events: []Event{{
		UID: "u", Stamp: time.Unix(0, 0), First: day1(2007, 6, 28), Last: day1(2007, 7, 8), Summary: summary, Description: description,
	}}})
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestLinesAreFoldedAt75Octets(t *testing.T) {
	// RFC 5545 section 3.1: at most 75 octets without the line break; the
	// lengths are counted by hand from "SUMMARY:" and so many letters A.
	for n, want := range map[int][]int{67: {75}, 68: {75, 2}, 142: {75, 75, 2}} {
		var got []int
		in := false
		for line := range strings.SplitSeq(rendered(t, strings.Repeat("A", n), ""), "\r\n") {
			if in = strings.HasPrefix(line, "SUMMARY:") || in && strings.HasPrefix(line, " "); in {
				got = append(got, len(line))
			}
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%d letters: %s", n, diff)
		}
	}
}

func TestUnfoldingGivesTheLineOfTheStandard(t *testing.T) {
	// The example of RFC 5545 section 3.1.
	folded := "DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line."
	if got := unfold(folded); got != "DESCRIPTION:This is a long description that exists on a long line." {
		t.Errorf("got %q", got)
	}
}

func TestTextIsEscapedAsTheStandardSays(t *testing.T) {
	// RFC 5545 section 3.3.11, its example and its rules: a line break, comma,
	// semicolon and backslash are escaped, a colon and a quotation mark are not.
	for text, want := range map[string]string{
		"Project XYZ Final Review\nConference Room - 3B\nCome Prepared.": `Project XYZ Final Review\nConference Room - 3B\nCome Prepared.`,
		"a,b;c\\d:e\"f":      `a\,b\;c\\d:e"f`,
		`C:\new`:             `C:\\new`,
		"one\r\ntwo\rthree":  `one\ntwo\nthree`,
		"bell\x07 and \x00":  `bell and `,
		"tab\tstays":         "tab\tstays",
		"no text \xff":       "no text \uFFFD",
		"BEGIN:VEVENT\r\nX:": `BEGIN:VEVENT\nX:`,
	} {
		if got := rendered(t, "s", text); !strings.Contains(unfold(got), "\r\nDESCRIPTION:"+want+"\r\n") {
			t.Errorf("%q is not written as %q:\n%s", text, want, got)
		}
	}
}

func TestTheEndOfAnEventOfDaysIsNotPartOfIt(t *testing.T) {
	// The example of RFC 5545 section 3.6.1: 28 June to 8 July 2007.
	got := rendered(t, "s", "")
	if !strings.Contains(got, "\r\nDTSTART;VALUE=DATE:20070628\r\nDTEND;VALUE=DATE:20070709\r\n") {
		t.Errorf("got\n%s", got)
	}
}

func TestHowOftenToReadAgainIsADuration(t *testing.T) {
	// RFC 5545 section 3.3.6.
	for d, want := range map[time.Duration]string{
		0: "P1D", time.Hour: "PT1H", 23 * time.Hour: "PT23H", 24 * time.Hour: "P1D", 36 * time.Hour: "P1DT12H", 7 * 24 * time.Hour: "P7D",
	} {
		b, err := Render(Calendar{Name: "c", Refresh: d})
		if err != nil {
			t.Fatal(err)
		}
		// RFC 7986 section 5.7 wants the parameter.
		if !strings.Contains(string(b), "\r\nREFRESH-INTERVAL;VALUE=DURATION:"+want+"\r\n") || !strings.Contains(string(b), "\r\nX-PUBLISHED-TTL:"+want+"\r\n") {
			t.Errorf("%s: got\n%s", d, b)
		}
	}
}

func TestCalendarsThatNoProgramCouldUseAreRefused(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*Calendar)
		field  string
	}{
		"no name":              {func(c *Calendar) { c.Name = "\n" }, "calendar.name"},
		"no identifier":        {func(c *Calendar) { c.Events[1].UID = "" }, "calendar.events[1].uid"},
		"one of two lines":     {func(c *Calendar) { c.Events[1].UID = "a\nb" }, "calendar.events[1].uid"},
		"one twice":            {func(c *Calendar) { c.Events[1].UID = c.Events[0].UID }, "calendar.events[1].uid"},
		"a number below zero":  {func(c *Calendar) { c.Events[0].Sequence = -1 }, "calendar.events[0].sequence"},
		"no time of change":    {func(c *Calendar) { c.Events[0].Stamp = time.Time{} }, "calendar.events[0].stamp"},
		"no day":               {func(c *Calendar) { c.Events[0].First = vehicle.Date{} }, "calendar.events[0].first"},
		"a day that is none":   {func(c *Calendar) { c.Events[0].First = vehicle.Date{Year: 2026, Month: 2, Day: 30} }, "calendar.events[0].first"},
		"the last before":      {func(c *Calendar) { c.Events[1].Last = day1(2007, 6, 27) }, "calendar.events[1].last"},
		"the end of time":      {func(c *Calendar) { c.Events[0].First = day1(9999, 12, 31) }, "calendar.events[0].last"},
		"no words":             {func(c *Calendar) { c.Events[0].Summary = " " }, "calendar.events[0].summary"},
		"a category":           {func(c *Calendar) { c.Events[0].Categories = []string{"Service", "oil, filters"} }, "calendar.events[0].categories[1]"},
		"a status":             {func(c *Calendar) { c.Events[0].Status = "MAYBE" }, "calendar.events[0].status"},
		"an address":           {func(c *Calendar) { c.Events[0].URL = "stop" }, "calendar.events[0].url"},
		"a line in an address": {func(c *Calendar) { c.Source = "https://a.example/\r\nX:y" }, "calendar.source"},
		"half an hour":         {func(c *Calendar) { c.Refresh = 30 * time.Minute }, "calendar.refresh"},
	} {
		cal := packhorse()
		c.change(&cal)
		_, err := Render(cal)
		if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.field+":") {
			t.Errorf("%s: got %v, want a complaint about %s", name, err, c.field)
		}
	}
}

// unfold is RFC 5545 section 3.1, as dumb as can be.
func unfold(s string) string {
	return strings.ReplaceAll(strings.ReplaceAll(s, "\r\n ", ""), "\r\n\t", "")
}

// unescape is RFC 5545 section 3.3.11 read backwards.
func unescape(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] != '\\' {
			b.WriteByte(s[i])
			continue
		}
		i++
		switch s[i] {
		case 'n', 'N':
			b.WriteByte('\n')
		default:
			b.WriteByte(s[i])
		}
	}
	return b.String()
}

// lineRules says what is wrong with the lines of a calendar.
func lineRules(t interface{ Errorf(string, ...any) }, rendered string) {
	if !strings.HasSuffix(rendered, "\r\n") || strings.Count(rendered, "\n") != strings.Count(rendered, "\r\n") || strings.Count(rendered, "\r") != strings.Count(rendered, "\r\n") {
		t.Errorf("a line does not end in CRLF")
	}
	for line := range strings.SplitSeq(strings.TrimSuffix(rendered, "\r\n"), "\r\n") {
		if len(line) > 75 || len(line) == 0 || !utf8.ValidString(line) {
			t.Errorf("a line of %d octets: %q", len(line), line)
		}
	}
}
