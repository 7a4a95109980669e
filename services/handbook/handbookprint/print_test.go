package handbookprint_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"halfshaft/services/handbook"
	"halfshaft/services/handbook/handbookprint"
	"halfshaft/services/internal/typeset"
	"halfshaft/services/vehicle"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference before committing them")

// small is a handbook with one of everything.
func small() *handbook.Handbook {
	blank := handbook.Cell{Blank: true}
	return &handbook.Handbook{
		Book: "books/small/versions/1", Title: "Owner’s handbook", Language: "en-GB", Serial: "AM0147P", Release: "R4", On: vehicle.MustDate(2027, 4, 5), Sample: true,
		Works: handbook.ContactPlace{Name: "Aldermoor Works", Telephone: "+44 1632 960100"}, Cover: [][2]string{{"Serial", "AM0147P"}},
		Chapters: []handbook.MadeChapter{
			{Number: 1, Title: "Driving", Sections: []handbook.MadeSection{
				{ID: "controls", Title: "Controls", Index: []string{"controls"}, Blocks: []handbook.Block{
					{Picture: &handbook.Picture{Kind: handbook.GearLeverPicture, Caption: "The gates", Vehicle: "AM0147P", Gears: []handbook.PictureGear{{Gear: 1}, {Gear: 2}, {Gear: 3}, {Gear: 4}}, Unsynced: []int{1, 2}, Low: true}},
					{Warning: &handbook.MadeWarning{Word: "Danger", Text: handbook.Said("The hand brake holds nothing.")}},
					{Points: []handbook.Item{{Text: handbook.Words{{Kind: handbook.Emphasis, Text: "Choke"}, {Text: ", for a cold engine."}}}}},
				}},
				{ID: "sand", Title: "On sand", Index: []string{"beach"}, Blocks: []handbook.Block{
					{Text: handbook.Words{{Text: "See "}, {Kind: handbook.See, Text: "Controls", To: "controls"}, {Text: "."}}},
					{Steps: []handbook.Item{
						{Text: handbook.Words{{Text: "Let down to "}, {Kind: handbook.Value, Text: "14", Unit: "psi"}, {Text: "."}}, Warning: &handbook.MadeWarning{Word: "Caution", Text: handbook.Said("It comes off its rim.")}},
						{Text: handbook.Said("Drive on."), Changed: true},
					}},
					{Lines: []string{"Let down on (day)"}},
				}},
				{ID: "sand-more", Index: []string{"beach, more"}, Blocks: []handbook.Block{{Text: handbook.Said("It goes on without a heading.")}}},
			}},
			{Number: 6, Title: "Values", Sections: []handbook.MadeSection{{ID: "speeds", Title: "Road speeds", Changed: true, Blocks: []handbook.Block{
				{Table: &handbook.Table{Caption: "Speeds", Columns: []handbook.Column{{Head: "rev/min", Right: true}, {Head: "4th", Right: true}}, Note: "On new tyres.",
					Groups: []handbook.Group{{Title: "High range, mph", Rows: []handbook.Row{{Cells: []handbook.Cell{{Words: handbook.Said("1,000")}, {Words: handbook.Said("17")}}, Changed: true}}}}}},
				{Picture: &handbook.Picture{Kind: handbook.RoadSpeedPicture, Caption: "Road speed", Vehicle: "AM0147P", Unit: "mi", Gears: []handbook.PictureGear{{Gear: 4, PerThousand: 27}, {Gear: 4, Low: true, PerThousand: 11}}}},
				{Picture: &handbook.Picture{Kind: handbook.IndicatedSpeedPicture, Caption: "Shown", Vehicle: "AM0147P", Unit: "mi", Dial: []handbook.DialSpeed{{True: 40, Shown: 41}, {True: 80, Shown: 83}}}},
				{Table: &handbook.Table{Caption: "Services", Columns: []handbook.Column{{Head: "Day"}, {Head: "Stamp"}},
					Groups: []handbook.Group{{Title: "On record", Rows: []handbook.Row{{Cells: []handbook.Cell{{Words: handbook.Said("5 Apr 2027")}, {}}}}}, {Title: "To be filled in", Rows: []handbook.Row{{Cells: []handbook.Cell{blank, blank}}}}}}},
			}}}},
		},
	}
}

func second() handbookprint.Edition {
	return handbookprint.Edition{Issue: 2, Before: 1, Text: "other tyres", Changes: []handbook.Change{
		{Section: "speeds", Title: "Road speeds", Kind: handbook.SectionChanged, Sentence: "“16” is now “17”."}, {Section: "winch", Title: "The winch", Kind: handbook.SectionRemoved, Sentence: "“The winch” is not in it any more."},
	}}
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil || !bytes.Equal(want, got) {
		t.Errorf("%s is not the golden one (%v): look at it, and run with -update", name, err)
	}
}

func TestASmallHandbookReadsAsBefore(t *testing.T) {
	golden(t, "small.txt", []byte(strings.Join(handbookprint.Document(small(), second()).Texts(), "\n")+"\n"))
	page, err := handbookprint.HTML(small(), second())
	if err != nil {
		t.Fatal(err)
	}
	_, body, _ := strings.Cut(string(page), "</style>")                     // the style sheet is the typesetter's
	golden(t, "small.html", []byte(strings.ReplaceAll(body, "><", ">\n<"))) // in lines, so that a difference is read
}

// text is what a browser finds in a page, element by element.
func tree(t *testing.T, page []byte) string {
	t.Helper()
	root, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode && (n.Data == "style" || n.Data == "link") {
			return
		}
		if text := strings.TrimSpace(n.Data); text != "" {
			b.WriteString("(" + text)
			defer b.WriteString(")")
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(root)
	return b.String()
}

// The end tags that are left out are those that a browser puts there itself.
func TestThePageWithoutOptionalEndTagsIsTheSameToABrowser(t *testing.T) {
	h := small()
	h.Chapters[1].Sections[0].Blocks = h.Chapters[1].Sections[0].Blocks[:1] // pictures are drawn otherwise on a page, and blanks left out
	h.Chapters[0].Sections[0].Blocks = h.Chapters[0].Sections[0].Blocks[1:]
	short, err := handbookprint.HTML(h, second())
	if err != nil {
		t.Fatal(err)
	}
	long, err := typeset.HTML(handbookprint.Document(h, second()), "x.css")
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(short), "</li>") || !strings.Contains(string(long), "</li>") {
		t.Error("no end tag was left out: the test shows nothing")
	}
	if a, b := tree(t, short), tree(t, long); a != b {
		t.Errorf("a browser finds\n%s\nwant\n%s", a, b)
	}
}

func TestThePageNeedsNothingBesideItAndHasNoBlanksToWriteOn(t *testing.T) {
	page, err := handbookprint.HTML(small(), second())
	if err != nil {
		t.Fatal(err)
	}
	for _, never := range []string{"<link", "<script", "http://", "https://", "url(", "@import", "To be filled in", "Stamp", `style="`} {
		if bytes.Contains(page, []byte(never)) {
			t.Errorf("%q stands in it", never)
		}
	}
	for _, want := range []string{`<div class="caution grave"`, `<div class=caution `, `href="#controls"`, `id=controls>`, "What has changed since issue 1", "Let down on (day)"} {
		if !bytes.Contains(page, []byte(want)) {
			t.Errorf("%q does not stand in it", want)
		}
	}
}

func TestTheFirstIssueHasNoListOfChangesAndAPreviewSaysThatItIsNone(t *testing.T) {
	first := strings.Join(handbookprint.Document(small(), handbookprint.Edition{Issue: 1}).Texts(), "\n")
	if strings.Contains(first, "changed since") || !strings.Contains(first, "Issue 1 of 5 April 2027") {
		t.Error(first)
	}
	preview := strings.Join(handbookprint.Document(small(), handbookprint.Edition{}).Texts(), "\n")
	if !strings.Contains(preview, "not issued") {
		t.Error(preview)
	}
	if d := handbookprint.Document(small(), handbookprint.Edition{}); d.Head != "AM0147P – sample, not signed" {
		t.Errorf("the head of a sample is %q", d.Head)
	}
	signed := small()
	signed.Sample, signed.SignedBy = false, "J. Ashdown"
	if all := strings.Join(handbookprint.Document(signed, handbookprint.Edition{Issue: 1}).Texts(), "\n"); strings.Contains(all, "sample") || !strings.Contains(all, "Signed by J. Ashdown.") {
		t.Error("a signed handbook is called a sample, or does not say who signed")
	}
}

func TestPagesArePrintedAndCounted(t *testing.T) {
	for _, paper := range []typeset.Paper{typeset.A5, typeset.A4, typeset.USLetter} {
		pdf, err := typeset.PDF(handbookprint.Document(small(), second()), typeset.Print{Paper: paper, Duplex: true})
		if err != nil {
			t.Fatal(err)
		}
		if n := handbookprint.PageCount(pdf); n < 4 || n > 9 {
			t.Errorf("%s: %d pages", paper, n)
		}
	}
}
