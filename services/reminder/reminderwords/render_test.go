package reminderwords

import (
	"flag"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference before committing it")

func renderer(t testing.TB) *Renderer {
	t.Helper()
	r, err := New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

var letters = map[string]func() Letter{"early-oil": earlyOil, "overdue-visit": overdueVisit, "due-torque": dueTorque, "ask-reading": askReading}

func TestLettersReadAsTheGoldenFilesDo(t *testing.T) {
	for name, letter := range letters {
		got, err := renderer(t).Mail(letter())
		if err != nil {
			t.Fatal(err)
		}
		golden(t, name+".txt", "Subject: "+got.Subject+"\n\n"+got.Text)
		golden(t, name+".html", got.HTML)
	}
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s differs (-want +got):\n%s", name, diff)
	}
}

var tags = regexp.MustCompile(`(?s)<(style|head).*?</(style|head)>|<[^>]*>`)

// words reduces a letter to its words, so that two forms can be compared.
func words(text string) string { return strings.Join(strings.Fields(text), " ") }

func TestTextAndHTMLSayTheSame(t *testing.T) {
	for name, letter := range letters {
		l := letter()
		got, err := renderer(t).Mail(l)
		if err != nil {
			t.Fatal(err)
		}
		// What a form needs of its own: list marks in the text, words for links
		// in the HTML.
		text := got.Text
		for _, link := range []string{l.Links.Odometer, l.Links.Stop} {
			text = strings.ReplaceAll(text, link, "")
		}
		text = regexp.MustCompile(`(?m)^   - `).ReplaceAllString(text, "")
		page := html.UnescapeString(tags.ReplaceAllString(got.HTML, " "))
		for _, link := range []string{"Report the odometer", "Stop reminders for this vehicle"} {
			page = strings.ReplaceAll(page, link, "")
		}
		if diff := cmp.Diff(strings.Split(words(text), " "), strings.Split(words(page), " ")); diff != "" {
			t.Errorf("%s: text and HTML differ:\n%s", name, diff)
		}
		for _, link := range []string{l.Links.Odometer, l.Links.Stop} {
			if link != "" && (!strings.Contains(got.Text, link+"\n") || !strings.Contains(got.HTML, `href="`+link+`"`)) {
				t.Errorf("%s: a link is not in both forms", name)
			}
		}
	}
}

func TestTheHTMLFetchesNothing(t *testing.T) {
	for name, letter := range letters {
		got, err := renderer(t).Mail(letter())
		if err != nil {
			t.Fatal(err)
		}
		for _, bad := range []string{"<img", "<script", "<link", "url(", "@import", "src="} {
			if strings.Contains(strings.ToLower(got.HTML), bad) {
				t.Errorf("%s: the HTML has %s", name, bad)
			}
		}
	}
}

func TestDatesFollowTheReader(t *testing.T) {
	// common practice, no source: the month first in the United States, the
	// day first elsewhere.
	for _, c := range []struct{ language, want string }{
		{"", "1 May 2027"}, {"en", "1 May 2027"}, {"en-GB", "1 May 2027"}, {"en-AU", "1 May 2027"},
		{"en-US", "May 1, 2027"}, {"en_us", "May 1, 2027"}, {"fr-FR", "1 May 2027"},
	} {
		if got := dateText(day(2027, time.May, 1), c.language); got != c.want {
			t.Errorf("%q: got %q, want %q", c.language, got, c.want)
		}
	}
}

func TestTextIsSetInShortLines(t *testing.T) {
	if got, want := fill("  ", "- ", "aa bb"), "  - aa bb"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	long := fill("   ", "CAUTION: ", strings.Repeat("word ", 40))
	for i, line := range strings.Split(long, "\n") {
		if len(line) > width || i > 0 && !strings.HasPrefix(line, "            word") {
			t.Errorf("line %d: %q", i, line)
		}
	}
}
