package typeset

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"halfshaft/services/internal/telephone"
)

// manyTables is a document whose tables begin at every height of a page.
func manyTables() Document {
	d := Document{Title: "Tables", Edition: "Issue 1"}
	for n := range 60 {
		for range n % 7 {
			d.Blocks = append(d.Blocks, Paragraph{Runs: Words("A line between two tables.")})
		}
		if n%4 == 0 {
			d.Blocks = append(d.Blocks, Heading{Level: 1, Text: fmt.Sprintf("heading-%d", n)})
		}
		if n%4 < 2 {
			d.Blocks = append(d.Blocks, Caution{Word: fmt.Sprintf("caution-%d", n), Texts: []Runs{Words("Hot oil burns.")}})
		}
		t := Table{Columns: []Column{{Head: fmt.Sprintf("head-%d", n), Weight: 4}, {Head: "How much of head-" + fmt.Sprint(n), Align: Right}}, Dense: n%5 == 0}
		if n%3 > 0 {
			t.Caption = fmt.Sprintf("caption-%d", n)
		}
		for g := range 2 {
			group := Group{}
			if n%2 > 0 {
				group.Title = fmt.Sprintf("group-%d", n)
			}
			for r := range 3 + n%3*10 {
				says := fmt.Sprintf("row %d of %d", r+1, g+1) + strings.Repeat(" that is told at some length", n%4*4)
				group.Rows = append(group.Rows, Row{Cells: []Cell{{Runs: Words(says)}, {Runs: Words("12")}}})
			}
			t.Groups = append(t.Groups, group)
		}
		d.Blocks = append(d.Blocks, t)
	}
	for n := range 30 {
		d.Blocks = append(d.Blocks, PageBreak{}, Heading{Level: 1, Text: "Settings"})
		for range 12 + n {
			d.Blocks = append(d.Blocks, Paragraph{Runs: Words("A line before a table.")})
		}
		t := Table{Caption: fmt.Sprintf("caption-%d", n), Columns: []Column{{Head: "What"}, {Head: "Set to"}, {Head: fmt.Sprintf("head-%d", n)}}}
		row := Row{Cells: []Cell{{Runs: Words("Inlet clearance")}, {Runs: Words("0.22 to 0.28 mm (8.7 to 11.0 thou), aim at 0.25 mm")}, {Runs: Words("Engine cold.")}}}
		t.Groups = []Group{{Rows: []Row{row, row, row, row, row, row, row, row}}}
		d.Blocks = append(d.Blocks, Heading{Level: 2, Text: fmt.Sprintf("heading-%d", n)},
			Caution{Word: "Caution", Texts: []Runs{Words(strings.Repeat("Chocks and stands come first. ", 8) + fmt.Sprintf("caution-%d", n))}}, t)
	}
	return d
}

// A browser prints a table's caption, head and the line above a group on the page
// of the row that follows, and a heading and a caution before the table there too.
func TestWhatHeadsATableIsNotAloneAtTheFootOfAPrintedPage(t *testing.T) {
	ctx := telephone.Browser(t)
	page, err := HTML(manyTables(), "/style.css")
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/style.css" {
			w.Header().Set("Content-Type", "text/css")
			w.Write(StyleSheet())
			return
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Write(page)
	}))
	defer server.Close()
	if err := chromedp.Do(ctx, chromedp.Navigate(server.URL)); err != nil {
		t.Fatal(err)
	}
	for _, size := range []struct {
		name  string
		paper chromedp.PaperSize
	}{{"A4", chromedp.PaperA4}, {"Letter", chromedp.PaperLetter}} {
		pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(size.paper)))
		if err != nil {
			t.Fatal(err)
		}
		pages := strings.Split(strings.TrimRight(string(poppler(t, pdf, "pdftotext", "-layout")), "\f\n"), "\f")
		if len(pages) < 8 {
			t.Fatalf("%s: %d pages", size.name, len(pages))
		}
		for n, text := range pages {
			lines := strings.Split(strings.TrimSpace(text), "\n")
			foot := lines[len(lines)-1]
			for _, heads := range []string{"heading-", "caution-", "caption-", "head-", "group-"} {
				if strings.Contains(foot, heads) {
					t.Errorf("%s: page %d ends with %q", size.name, n+1, strings.Fields(foot))
				}
			}
		}
	}
}
