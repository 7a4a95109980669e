package remindercalendar

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

// anyText has what is awkward in a calendar.
var anyText = rapid.Custom(func(t *rapid.T) string {
	set := rapid.SampledFrom([]string{"ab ,;\\\n:\"", "aéß–🔧🚙 ", "\\nN,;", "a b  c", "A", "<a> b", "\t x=;:,^'"}).Draw(t, "set")
	return "x" + string(rapid.SliceOfN(rapid.SampledFrom([]rune(set)), 0, 300).Draw(t, "text"))
})

var anyCategory = rapid.Map(anyText, func(s string) string { return strings.NewReplacer(",", "", `\`, "", "\n", "").Replace(s) })

var anyCalendar = rapid.Custom(func(t *rapid.T) Calendar {
	c := Calendar{
		Name:    anyText.Draw(t, "name"),
		Refresh: time.Duration(rapid.IntRange(1, 1000).Draw(t, "refresh")) * time.Hour,
	}
	if rapid.Bool().Draw(t, "described") {
		c.Description = anyText.Draw(t, "description")
		c.Source = "https://aldermoor.example/c?" + rapid.StringMatching(`[a-z;,:=&]{0,100}`).Draw(t, "source")
	}
	for i := range rapid.IntRange(0, 5).Draw(t, "events") {
		first := vehicle.MustDate(rapid.IntRange(1970, 2200).Draw(t, "year"), 1, 1).AddDays(rapid.IntRange(0, 365).Draw(t, "day"))
		e := Event{
			UID: string(rune('a'+i)) + rapid.StringMatching(`[a-z0-9,;@.-]{1,80}`).Draw(t, "uid"), Sequence: rapid.IntRange(0, 1<<31-1).Draw(t, "sequence"),
			Stamp: time.Unix(rapid.Int64Range(0, 4e9).Draw(t, "stamp"), 0).UTC(), First: first, Last: first.AddDays(rapid.IntRange(0, 40).Draw(t, "long")),
			Summary: anyText.Draw(t, "summary"), Status: rapid.SampledFrom([]Status{Tentative, Confirmed, Cancelled}).Draw(t, "status"),
			Categories: rapid.SliceOfN(anyCategory, 0, 3).Draw(t, "categories"),
		}
		if rapid.Bool().Draw(t, "long") {
			e.Description = anyText.Draw(t, "description")
			e.URL = c.Source
		}
		c.Events = append(c.Events, e)
	}
	return c
})

// held is what a calendar holds, property by property.
type held struct {
	Properties map[string]any   `json:"properties"`
	Events     []map[string]any `json:"events"`
	Errors     []string         `json:"errors"`
}

// wanted says what a calendar must hold.
func wanted(c Calendar) held {
	refresh := c.Refresh
	if refresh == 0 {
		refresh = 24 * time.Hour
	}
	h := held{Events: []map[string]any{}, Errors: []string{}, Properties: map[string]any{
		"VERSION": "2.0", "PRODID": productID, "CALSCALE": "GREGORIAN", "NAME": text(c.Name), "X-WR-CALNAME": text(c.Name),
		"REFRESH-INTERVAL": refresh, "X-PUBLISHED-TTL": refresh,
	}}
	if c.Description != "" {
		h.Properties["DESCRIPTION"], h.Properties["X-WR-CALDESC"] = text(c.Description), text(c.Description)
	}
	if c.Source != "" {
		h.Properties["SOURCE"] = c.Source
	}
	for _, e := range c.Events {
		last := e.Last
		if last.IsZero() {
			last = e.First
		}
		status := e.Status
		if status == "" {
			status = Confirmed
		}
		p := map[string]any{
			"UID": e.UID, "SEQUENCE": float64(e.Sequence), "SUMMARY": text(e.Summary), "STATUS": string(status), "TRANSP": "TRANSPARENT",
			"DTSTAMP": e.Stamp.UTC().Format(time.RFC3339), "LAST-MODIFIED": e.Stamp.UTC().Format(time.RFC3339),
			"DTSTART": e.First.String(), "DTEND": last.AddDays(1).String(),
		}
		if e.Description != "" {
			p["DESCRIPTION"] = text(e.Description)
		}
		if e.URL != "" {
			p["URL"] = e.URL
		}
		if len(e.Categories) > 0 {
			var all []any
			for _, c := range e.Categories {
				all = append(all, text(c))
			}
			p["CATEGORIES"] = all
		}
		h.Events = append(h.Events, p)
	}
	return h
}

// python finds a Python with the module; Debian's own first.
func python(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(name, "-c", "import icalendar").Run() == nil {
			return name
		}
	}
	if os.Getenv("CI") != "" {
		t.Fatal("no python3-icalendar")
	}
	t.Skip("no python3-icalendar: as root, apt-get install python3-icalendar")
	return ""
}

// readByPython reads calendars with an independent parser.
func readByPython(t *testing.T, name string, all [][]byte) []held {
	t.Helper()
	var in []string
	for _, c := range all {
		in = append(in, base64.StdEncoding.EncodeToString(c))
	}
	request, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(name, "testdata/read.py")
	var stderr bytes.Buffer
	cmd.Stdin, cmd.Stderr = bytes.NewReader(request), &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v\n%s", err, stderr.String())
	}
	var got []held
	if err := json.Unmarshal(out, &got); err != nil {
		t.Fatal(err)
	}
	if len(got) != len(all) {
		t.Fatalf("%d calendars were read, want %d", len(got), len(all))
	}
	return got
}

var misread = regexp.MustCompile(`\\\\[nN\\]`)

func TestAnIndependentParserReadsWhatWasMeant(t *testing.T) {
	name := python(t)
	calendars := []Calendar{packhorse(), {Name: "empty"}}
	for seed := range 300 {
		calendars = append(calendars, anyCalendar.Example(seed))
	}
	var all [][]byte
	var meant []Calendar
	for _, c := range calendars {
		b, err := Render(c)
		if err != nil {
			t.Fatal(err)
		}
		// Version 4.0.3 of the module takes the second of two backslashes for the
		// beginning of another escape; the dumb parser below does not.
		if !misread.MatchString(unfold(string(b))) {
			all, meant = append(all, b), append(meant, c)
		}
	}
	if len(all) < 200 {
		t.Fatalf("only %d calendars", len(all))
	}
	for i, got := range readByPython(t, name, all) {
		want := wanted(meant[i])
		plain(&got, &want)
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("calendar %d:\n%s\n%s", i, diff, all[i])
		}
	}
}

// plain brings both to the same terms where the parser has its own.
func plain(got, want *held) {
	for name, value := range want.Properties {
		if d, ok := value.(time.Duration); ok {
			want.Properties[name] = duration(d)
			if seconds, ok := got.Properties[name].(float64); ok {
				got.Properties[name] = duration(time.Duration(seconds) * time.Second)
			}
		}
	}
	for _, e := range got.Events {
		for _, name := range []string{"DTSTAMP", "LAST-MODIFIED"} {
			if s, ok := e[name].(string); ok {
				e[name] = strings.Replace(s, "+00:00", "Z", 1)
			}
		}
		// One property holds a list, several a list of lists.
		if list, ok := e["CATEGORIES"].([]any); ok {
			var flat []any
			for _, one := range list {
				if some, ok := one.([]any); ok {
					flat = append(flat, some...)
				} else {
					flat = append(flat, one)
				}
			}
			e["CATEGORIES"] = flat
		}
	}
}

func TestADumbParserReadsWhatWasMeant(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := anyCalendar.Draw(rt, "calendar")
		b, err := Render(c)
		if err != nil {
			rt.Fatal(err)
		}
		lineRules(rt, string(b))
		got, want := readDumbly(string(b)), wanted(c)
		for _, p := range append(want.Events, want.Properties) {
			for name, value := range p {
				switch v := value.(type) {
				case time.Duration:
					p[name] = duration(v)
				case float64:
					b, _ := json.Marshal(int64(v))
					p[name] = string(b)
				}
			}
		}
		if diff := cmp.Diff(want, got); diff != "" {
			rt.Fatalf("%s\n%s", diff, b)
		}
	})
}

// readDumbly unfolds, splits and unescapes, and knows what it needs of the
// kinds of values.
func readDumbly(s string) held {
	h := held{Properties: map[string]any{}, Events: []map[string]any{}, Errors: []string{}}
	into := h.Properties
	for line := range strings.SplitSeq(strings.TrimSuffix(unfold(s), "\r\n"), "\r\n") {
		name, value, _ := strings.Cut(line, ":")
		name, _, _ = strings.Cut(name, ";")
		switch name {
		case "BEGIN", "END":
			if line == "BEGIN:VEVENT" {
				h.Events = append(h.Events, map[string]any{})
				into = h.Events[len(h.Events)-1]
			}
		case "CATEGORIES":
			all, _ := into[name].([]any)
			into[name] = append(all, unescape(value))
		case "SOURCE", "URL":
			into[name] = value
		case "DTSTART", "DTEND":
			into[name] = value[:4] + "-" + value[4:6] + "-" + value[6:]
		case "DTSTAMP", "LAST-MODIFIED":
			at, err := time.Parse("20060102T150405Z", value)
			if err != nil {
				h.Errors = append(h.Errors, err.Error())
			}
			into[name] = at.Format(time.RFC3339)
		default:
			into[name] = unescape(value)
		}
	}
	return h
}
