package typeset

import (
	"bytes"
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"
	"pgregory.net/rapid"
)

// elements gives the elements of a page in their order.
func elements(t testing.TB, page []byte) (all []*html.Node) {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	for n := range root.Descendants() {
		if n.Type == html.ElementNode {
			all = append(all, n)
		}
	}
	return all
}

func attribute(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func samplePage(t *testing.T) []byte {
	t.Helper()
	page, err := HTML(sample(), "/style.css")
	if err != nil {
		t.Fatal(err)
	}
	return page
}

func TestAPageHasNoStyleOrScriptOfItsOwnAndAsksNobody(t *testing.T) {
	for _, n := range elements(t, samplePage(t)) {
		if slices.Contains([]string{"script", "style", "iframe", "object", "form"}, n.Data) {
			t.Errorf("there is a <%s>", n.Data)
		}
		for _, a := range n.Attr {
			if a.Key == "style" || strings.HasPrefix(a.Key, "on") {
				t.Errorf("<%s> has %s", n.Data, a.Key)
			}
			if (a.Key == "src" || a.Key == "href") && strings.Contains(a.Val, "//") {
				t.Errorf("<%s> leads to %s", n.Data, a.Val)
			}
		}
	}
	if css := string(StyleSheet()); strings.Contains(css, "url(") || strings.Contains(css, "@import") {
		t.Error("the style sheet fetches something")
	}
}

func TestLinksLeadToWhatIsThereOnce(t *testing.T) {
	ids, links := map[string]int{}, 0
	all := elements(t, samplePage(t))
	for _, n := range all {
		if id := attribute(n, "id"); id != "" {
			ids[id]++
		}
	}
	for id, n := range ids {
		if n > 1 {
			t.Errorf("%q is there %d times", id, n)
		}
	}
	for _, n := range all {
		if to, ok := strings.CutPrefix(attribute(n, "href"), "#"); ok {
			if links++; ids[to] == 0 {
				t.Errorf("nothing is called %q", to)
			}
			if strings.TrimSpace(saidBy(n)) == "" {
				t.Errorf("the link to %q says nothing", to)
			}
		}
		for _, name := range []string{"aria-labelledby", "aria-describedby"} {
			if to := attribute(n, name); to != "" && ids[to] == 0 {
				t.Errorf("<%s> is named by %q, which is not there", n.Data, to)
			}
		}
	}
	if links < 15 {
		t.Errorf("only %d links", links)
	}
}

// saidBy is what an element says.
func saidBy(n *html.Node) string {
	var b strings.Builder
	for c := range n.Descendants() {
		if c.Type == html.TextNode {
			b.WriteString(c.Data)
		}
	}
	return b.String()
}

func TestAScreenReaderFindsItsWay(t *testing.T) {
	level, mains, h1s := 0, 0, 0
	for _, n := range elements(t, samplePage(t)) {
		switch n.Data {
		case "html":
			if attribute(n, "lang") != "en" {
				t.Error("the page does not say its language")
			}
		case "main":
			mains++
		case "h1", "h2", "h3", "h4":
			now := int(n.Data[1] - '0')
			if now > level+1 {
				t.Errorf("<%s> %q follows a heading of level %d", n.Data, saidBy(n), level)
			}
			if level = now; now == 1 {
				h1s++
			}
		case "th":
			if s := attribute(n, "scope"); !slices.Contains([]string{"col", "row", "rowgroup"}, s) || strings.TrimSpace(saidBy(n)) == "" {
				t.Errorf("a head %q of scope %q", saidBy(n), s)
			}
		case "table":
			if n.FirstChild == nil || !strings.Contains(saidBy(n), "") {
				t.Error("an empty table")
			}
		}
		if attribute(n, "role") == "img" && attribute(n, "aria-label") == "" && attribute(n, "aria-labelledby") == "" {
			t.Errorf("<%s> is a picture without a name", n.Data)
		}
		if attribute(n, "tabindex") != "" && attribute(n, "tabindex") != "0" {
			t.Errorf("<%s> takes the focus out of order", n.Data)
		}
	}
	if mains != 1 || h1s != 1 {
		t.Errorf("%d main parts, %d titles", mains, h1s)
	}
}

func TestEveryClassOfThePageHasAStyle(t *testing.T) {
	css := string(StyleSheet())
	for _, n := range elements(t, samplePage(t)) {
		for class := range strings.FieldsSeq(attribute(n, "class")) {
			if !regexp.MustCompile(`\.`+regexp.QuoteMeta(class)+`\b`).MatchString(css) && !slices.Contains([]string{"title", "unit", "line", "level-1", "remarks"}, class) {
				t.Errorf("nothing is said of .%s", class)
			}
		}
	}
}

func TestNoWordIsLostOnAPage(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := &world{t: t, long: 9}
		d := w.document()
		page, err := HTML(d, "/style.css")
		if err != nil {
			t.Fatal(err)
		}
		root, err := html.Parse(bytes.NewReader(page))
		if err != nil {
			t.Fatal(err)
		}
		var shown, want []string
		for n := range root.Descendants() {
			if n.Type == html.TextNode {
				shown = append(shown, wordsOf(n.Data)...)
			}
		}
		for _, word := range inDocument(d) {
			if regexp.MustCompile(`^w\d+x`).MatchString(word) {
				want = append(want, word) // a list's numbers are the reader's own
			}
		}
		// The cover's small print stands at the end, and a drawing's words
		// before its caption: order is looked at without them.
		slices.Sort(want)
		for _, word := range slices.Compact(want) {
			if !slices.Contains(shown, word) {
				t.Fatalf("%q is lost", word)
			}
		}
	})
}

func TestTextIsEscaped(t *testing.T) {
	d := Document{Title: `<b>"&`, Blocks: []Block{
		Heading{Level: 1, Text: "<script>", Index: []string{"<i>"}}, Paragraph{Runs: Runs{{Kind: Strong, Text: "<img src=x>"}}},
		Table{Caption: `"><u>`, Columns: []Column{{Head: "<s>"}}, Groups: []Group{{Title: "<q>", Rows: []Row{{Cells: []Cell{{Runs: Words("<td>")}}}}}}},
		Index{Title: "Index"},
	}}
	page, err := HTML(d, "/style.css")
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range elements(t, page) {
		if slices.Contains([]string{"b", "script", "img", "u", "s", "q", "i"}, n.Data) {
			t.Errorf("a text became a <%s>", n.Data)
		}
	}
	if part, err := Fragment(d); err != nil || !strings.HasPrefix(string(part), "<article") || strings.Contains(string(part), "<html") {
		t.Errorf("a part of a page: %.80s, %v", part, err)
	}
}

func TestAnEmptyCellHeadsNoRow(t *testing.T) {
	d := sample()
	d.Blocks = []Block{Table{Caption: "Signs", RowHeads: true, Columns: []Column{{Head: "Lever"}, {Head: "Does"}}, Groups: []Group{{Rows: []Row{
		{Cells: []Cell{{Runs: Words("red")}, {Runs: Words("drives the front axle")}}},
		{Cells: []Cell{{}, {Runs: Words("and holds it in low range")}}},
	}}}}}
	page, err := HTML(d, "/style.css")
	if err != nil {
		t.Fatal(err)
	}
	var heads []string
	for _, n := range elements(t, page) {
		if n.Data == "th" && attribute(n, "scope") == "row" {
			heads = append(heads, saidBy(n))
		}
	}
	if !slices.Equal(heads, []string{"red"}) {
		t.Errorf("rows are headed by %q", heads)
	}
}
