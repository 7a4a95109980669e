package reminderwords

import (
	"flag"
	"html"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference before committing it")

// each prints every letter in both languages.
func each(t *testing.T, do func(t *testing.T, name string, r *Renderer, l Letter)) {
	r := renderer(t, aldermoorWords)
	for name, make := range letters {
		t.Run(name+"/en", func(t *testing.T) { do(t, name+".en", r, make(t)) })
		t.Run(name+"/de", func(t *testing.T) { do(t, name+".de", r, inGerman(make(t))) })
	}
}

func mailOf(t testing.TB, r *Renderer, l Letter) Mail {
	t.Helper()
	m, err := r.Mail(l)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
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

func TestMailsReadAsTheGoldenFilesDo(t *testing.T) {
	each(t, func(t *testing.T, name string, r *Renderer, l Letter) {
		m := mailOf(t, r, l)
		golden(t, name+".txt", "Subject: "+m.Subject+"\n\n"+m.Text)
		if strings.HasPrefix(name, "due.") || strings.HasPrefix(name, "stop.") {
			golden(t, name+".html", m.HTML)
		}
	})
}

var tags = regexp.MustCompile(`(?s)<(style|head).*?</(style|head)>|<[^>]*>`)

// plainText gives the words that a reader of the HTML sees.
func plainText(page string) string { return html.UnescapeString(tags.ReplaceAllString(page, " ")) }

func TestTextAndHTMLSayTheSame(t *testing.T) {
	each(t, func(t *testing.T, _ string, r *Renderer, l Letter) {
		m := mailOf(t, r, l)
		// What a form needs of its own: marks of lists, headings and links in
		// the text, and the addresses of the links.
		text := regexp.MustCompile(`(?m)^(- |== |> |https://\S+$)`).ReplaceAllString(m.Text, "")
		if diff := cmp.Diff(strings.Fields(plainText(m.HTML)), strings.Fields(text)); diff != "" {
			t.Errorf("HTML and text differ:\n%s", diff)
		}
		for _, link := range regexp.MustCompile(`(?m)^https://\S+$`).FindAllString(m.Text, -1) {
			if !strings.Contains(m.HTML, `href="`+link+`"`) {
				t.Errorf("the HTML lacks the link %s", link)
			}
		}
	})
}

func TestTheHTMLFetchesNothing(t *testing.T) {
	each(t, func(t *testing.T, _ string, r *Renderer, l Letter) {
		page := strings.ToLower(mailOf(t, r, l).HTML)
		for _, bad := range []string{"<img", "<script", "<link", "url(", "@import", "src=", "<object", "<iframe", "<form", "<video"} {
			if strings.Contains(page, bad) {
				t.Errorf("the HTML has %s", bad)
			}
		}
	})
}

func TestHeadingsAreInOrderAndTheLanguageIsTold(t *testing.T) {
	each(t, func(t *testing.T, name string, r *Renderer, l Letter) {
		page := mailOf(t, r, l).HTML
		levels := regexp.MustCompile(`<h([1-6])`).FindAllStringSubmatch(page, -1)
		if len(levels) < 2 || levels[0][1] != "1" || strings.Count(page, "<h1") != 1 {
			t.Errorf("the headings are %v", levels)
		}
		for n := 1; n < len(levels); n++ {
			if levels[n][1] > "2" {
				t.Errorf("the headings are %v", levels)
			}
		}
		want := `<html lang="en">`
		if strings.HasSuffix(name, ".de") {
			want = `<html lang="de">`
		}
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %s", want)
		}
		links := regexp.MustCompile(`<a [^>]*>([^<]*)</a>`).FindAllStringSubmatch(page, -1)
		seen := map[string]bool{}
		for _, a := range links {
			if len(strings.Fields(a[1])) < 2 || seen[a[1]] {
				t.Errorf("a link says only %q, or as another does", a[1])
			}
			seen[a[1]] = true
		}
	})
}

func TestNothingIsLeftUnsaid(t *testing.T) {
	each(t, func(t *testing.T, _ string, r *Renderer, l Letter) {
		m := mailOf(t, r, l)
		sms, err := r.Text(l)
		if err != nil {
			t.Fatal(err)
		}
		for _, text := range []string{m.Text, m.HTML, m.Subject, sms} {
			if bad := regexp.MustCompile(`\[[a-z]+[.a-z-]*\]|<no value>|\{\{|%!`).FindString(text); bad != "" {
				t.Errorf("%s stands in %q", bad, text)
			}
		}
	})
}

// fragments are the phrases of a language, cut at their placeholders.
func fragments(t *testing.T, file string) []string {
	t.Helper()
	text, err := fs.ReadFile(builtIn, file)
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, line := range strings.Split(string(text), "\n") {
		_, phrase, ok := strings.Cut(line, ": ")
		if !ok || strings.HasPrefix(line, "#") {
			continue
		}
		for _, piece := range regexp.MustCompile(`\{\{[^}]*\}\}|"|\{one:|other:|\}`).Split(phrase, -1) {
			if piece = strings.Trim(piece, " .,;:()_"); len(strings.Fields(piece)) > 1 {
				all = append(all, piece)
			}
		}
	}
	return all
}

func TestNoEnglishStandsInAGermanMail(t *testing.T) {
	english, r := fragments(t, "words/en.yaml"), renderer(t, aldermoorWords)
	if len(english) < 150 {
		t.Fatalf("only %d pieces of English phrases", len(english))
	}
	check := func(l Letter) {
		t.Helper()
		m := mailOf(t, r, inGerman(l))
		for _, piece := range append(english, "auf Englisch") {
			if strings.Contains(strings.Join(strings.Fields(m.Subject+" "+m.Text), " "), piece) {
				t.Errorf("%q stands in the German mail %q", piece, m.Subject)
			}
		}
	}
	for _, make := range letters {
		check(make(t))
	}
	for _, i := range programmeItems(t) {
		check(letter(1, i))
	}
}
