package typeset

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// spot is where a word of a test's document was set.
type spot struct {
	page int
	y    float64
}

// spots finds each word that a world invented; a word that is printed again (in
// contents, in a repeated head) is found where it is printed last but in heads.
func spots(l *laid) map[string][]spot {
	all := map[string][]spot{}
	for _, p := range l.pages {
		for _, m := range p.marks() {
			for _, word := range wordsOf(m.text) {
				all[word] = append(all[word], spot{p.number, m.y})
			}
		}
	}
	return all
}

func wordsOf(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return isSpace(r) || strings.ContainsRune("\u00a0,()", r) })
}

// layouts runs a property over random documents.
func layouts(t *testing.T, property func(t *rapid.T, d Document, l *laid)) {
	t.Helper()
	rapid.Check(t, func(t *rapid.T) {
		w := &world{t: t, long: 9}
		d, p := w.document(), w.print()
		if err := d.Check(); err != nil {
			t.Fatal(err)
		}
		l, err := lay(d, p)
		if err != nil {
			t.Fatal(err)
		}
		property(t, d, l)
	})
}

func TestNothingStandsOutsideTheMargins(t *testing.T) {
	layouts(t, func(t *rapid.T, _ Document, l *laid) {
		const slip = 0.01
		for _, p := range l.pages {
			for _, st := range p.stands {
				if st.y < 0 || st.y+st.Height > l.textHeight()+slip {
					t.Fatalf("page %d: a strip from %.2f to %.2f of %.2f mm", p.number, st.y, st.y+st.Height, l.textHeight())
				}
			}
			for _, m := range p.marks() {
				if right := m.x + m.w; m.x < -slip || right > l.textWidth()+slip {
					t.Fatalf("page %d: %q from %.2f to %.2f of %.2f mm", p.number, m.text, m.x, right, l.textWidth())
				}
				if m.y < -slip || m.y+m.h > l.textHeight()+slip {
					t.Fatalf("page %d: %q at %.2f of %.2f mm", p.number, m.text, m.y, l.textHeight())
				}
			}
		}
	})
}

func TestNoTwoStripsOfAColumnOverlap(t *testing.T) {
	layouts(t, func(t *rapid.T, _ Document, l *laid) {
		for _, p := range l.pages {
			floor := map[float64]float64{}
			for _, st := range p.stands {
				if st.y < floor[st.x]-1e-6 {
					t.Fatalf("page %d: a strip at %.2f below one that ends at %.2f", p.number, st.y, floor[st.x])
				}
				if len(st.marks) > 0 {
					floor[st.x] = st.y + st.Height
				}
			}
		}
	})
}

func TestNoWordIsLostAndAllAreInOrder(t *testing.T) {
	layouts(t, func(t *rapid.T, d Document, l *laid) {
		var printed []string
		for _, p := range l.pages {
			for _, m := range p.marks() {
				if m.kind == letters {
					printed = append(printed, wordsOf(m.text)...)
				}
			}
		}
		if lost := missing(inDocument(d), printed); lost != "" {
			t.Fatalf("%q is lost or out of order in %q", lost, printed)
		}
	})
}

// inDocument are the words of a document whose order is that of its text: a row
// of a table that is parted over a page is not among them, which none is here.
func inDocument(d Document) (all []string) {
	for _, text := range d.Texts() {
		all = append(all, wordsOf(text)...)
	}
	return slices.DeleteFunc(all, func(w string) bool { return slices.Contains([]string{"limit", "70", "true", "speed", "mph"}, w) })
}

// missing gives the first of some words that is not found behind those before it.
func missing(want, got []string) string {
	for _, w := range want {
		i := slices.Index(got, w)
		if i < 0 {
			return w
		}
		got = got[i+1:]
	}
	return ""
}

// paragraphs gives the running text of a document by its words.
func paragraphs(blocks []Block) (all [][]string) {
	for _, b := range blocks {
		switch b := b.(type) {
		case Paragraph:
			all = append(all, wordsOf(b.Runs.Text()))
		case List:
			for _, it := range b.Items {
				all = append(append(all, wordsOf(it.Runs.Text())), paragraphs(it.Blocks)...)
			}
		case Together:
			all = append(all, paragraphs(b.Blocks)...)
		}
	}
	return all
}

func TestNoLineOfAParagraphStandsAlone(t *testing.T) {
	parted := 0
	layouts(t, func(t *rapid.T, d Document, l *laid) {
		at := spots(l)
		for _, words := range paragraphs(d.Blocks) {
			lines := map[int]map[float64]bool{}
			for _, w := range words {
				if !strings.HasPrefix(w, "w") {
					continue
				}
				s := at[w][0]
				if lines[s.page] == nil {
					lines[s.page] = map[float64]bool{}
				}
				lines[s.page][s.y] = true
			}
			if len(lines) < 2 {
				continue
			}
			parted++
			for page, some := range lines {
				if len(some) < 2 {
					t.Fatalf("page %d has one line alone of the paragraph %q", page, words)
				}
			}
		}
	})
	if parted == 0 {
		t.Error("no paragraph was parted")
	}
}

func TestAHeadingKeepsTwoLinesOfWhatItHeads(t *testing.T) {
	ended := 0
	layouts(t, func(t *rapid.T, d Document, l *laid) {
		for n, p := range l.pages {
			for i, st := range p.stands {
				if st.heading == nil {
					continue
				}
				lines, closed := map[float64]bool{}, false
				for _, next := range p.stands[i+1:] {
					if closed = next.heading != nil; closed {
						break
					}
					own := slices.ContainsFunc(next.marks, func(m mark) bool { return m.size == l.sheet.heading(st.heading.level).size })
					if !own {
						lines[next.y] = true
					}
				}
				if closed || n+1 == len(l.pages) && len(lines) > 0 {
					continue
				}
				if ended++; len(lines) == 0 || len(lines) == 1 && goesOn(l.pages[n+1]) {
					t.Fatalf("page %d ends %d lines after the heading %q: %q", p.number, len(lines), st.heading.text, said(l.pages[n:]))
				}
			}
		}
	})
	if ended == 0 {
		t.Error("no page ended under a heading")
	}
}

// goesOn says whether a page begins within a section.
func goesOn(p page) bool { return len(p.stands) > 0 && p.stands[0].heading == nil }

// said is what stands on pages, for a message.
func said(pages []page) (all []string) {
	for _, p := range pages[:min(2, len(pages))] {
		var texts []string
		for _, m := range p.marks() {
			texts = append(texts, m.text)
		}
		all = append(all, strings.Join(texts, " "))
	}
	return all
}

// tables gives the tables of a document, outermost and within others.
func tables(blocks []Block) (all []Table) {
	for _, b := range blocks {
		switch b := b.(type) {
		case Table:
			all = append(all, b)
		case List:
			for _, it := range b.Items {
				all = append(all, tables(it.Blocks)...)
			}
		case Together:
			all = append(all, tables(b.Blocks)...)
		}
	}
	return all
}

func TestHeadsAreRepeatedAndNoRowIsParted(t *testing.T) {
	parted := 0
	layouts(t, func(t *rapid.T, d Document, l *laid) {
		at := spots(l)
		pagesOf := func(word string) (pages []int) {
			for _, s := range at[word] {
				pages = append(pages, s.page)
			}
			return pages
		}
		for _, table := range tables(d.Blocks) {
			used := map[int]bool{}
			for _, g := range table.Groups {
				for _, r := range g.Rows {
					on := map[int]bool{}
					for _, c := range r.Cells {
						for _, w := range wordsOf(c.Runs.Text()) {
							if strings.HasPrefix(w, "w") {
								on[at[w][0].page] = true
							}
						}
					}
					if len(on) > 1 {
						t.Fatalf("a row is on pages %v: %q", slices.Sorted(maps.Keys(on)), said(l.pages))
					}
					maps.Copy(used, on)
				}
			}
			if len(used) > 1 {
				parted++
			}
			for _, c := range table.Columns {
				if got, want := pagesOf(c.Head), slices.Sorted(maps.Keys(used)); !slices.Equal(got, want) {
					t.Fatalf("the head %q is on pages %v, rows on %v", c.Head, got, want)
				}
			}
		}
	})
	if parted == 0 {
		t.Error("no table was parted")
	}
}

func TestACautionStaysWithItsStep(t *testing.T) {
	layouts(t, func(t *rapid.T, d Document, l *laid) {
		at := spots(l)
		together := func(texts ...string) {
			on := map[int]bool{}
			for _, text := range texts {
				for _, w := range wordsOf(text) {
					if strings.HasPrefix(w, "w") {
						on[at[w][0].page] = true
					}
				}
			}
			if len(on) != 1 {
				t.Fatalf("a caution and its step are on pages %v: %q", slices.Sorted(maps.Keys(on)), texts)
			}
		}
		for i, b := range d.Blocks {
			switch b := b.(type) {
			case Caution:
				texts := TextsOf(b)
				if p, ok := d.Blocks[i+1].(Paragraph); ok {
					texts = append(texts, p.Runs.Text())
				}
				together(texts...)
			case List:
				for _, it := range b.Items {
					if it.Caution != nil {
						together(append(TextsOf(*it.Caution), it.Runs.Text())...)
					}
				}
			}
		}
	})
}

func TestReferencesNameThePageOfTheirHeading(t *testing.T) {
	seen := 0
	layouts(t, func(t *rapid.T, d Document, l *laid) {
		want := map[string]int{}
		at := spots(l)
		for _, b := range d.Blocks {
			if h, ok := b.(Heading); ok {
				first := at[wordsOf(h.Text)[0]]
				want[h.Anchor] = first[len(first)-1].page
			}
		}
		for _, p := range l.pages {
			for _, m := range p.marks() {
				if m.kind != letters || !strings.HasPrefix(m.text, "page\u00a0") {
					continue
				}
				seen++
				if got := strings.TrimRight(m.text, " ,"); got != fmt.Sprintf("page\u00a0%d", want[m.link]) {
					t.Fatalf("page %d refers to %q, which is on page %d", p.number, got, want[m.link])
				}
			}
		}
	})
	if seen == 0 {
		t.Error("nothing was referred to")
	}
}

func TestContentsAndIndexNameTheRightPages(t *testing.T) {
	layouts(t, func(t *rapid.T, d Document, l *laid) {
		where := map[string]int{}
		for _, p := range l.pages {
			for _, st := range p.stands {
				for _, a := range st.anchors {
					where[a] = p.number
				}
			}
		}
		for _, p := range l.pages {
			for _, m := range p.marks() {
				if to := where[m.link]; strings.HasPrefix(m.link, "heading:") && strings.Trim(m.text, "0123456789") == "" && m.text != fmt.Sprint(to) {
					t.Fatalf("the contents say %s for a heading on page %d", m.text, to)
				}
			}
		}
		for _, b := range d.Blocks {
			if h, ok := b.(Heading); ok {
				for _, term := range h.Index {
					if got := l.last.terms[term]; !slices.Equal(got, []int{where[h.Anchor]}) {
						t.Fatalf("%q is filed under %v, want %d", term, got, where[h.Anchor])
					}
				}
			}
		}
	})
}

func TestTheSameDocumentGivesTheSameBytes(t *testing.T) {
	for _, paper := range []Paper{A4, A5, USLetter} {
		p := Print{Paper: paper, Duplex: true}
		first, err := PDF(sample(), p)
		if err != nil {
			t.Fatal(err)
		}
		for range 5 {
			if again, err := PDF(sample(), p); err != nil || !bytes.Equal(again, first) {
				t.Fatalf("%s: other bytes: %v", paper, err)
			}
		}
		other := sample()
		other.Edition = "Issue 4 of 5 April 2028"
		if again, err := PDF(other, p); err != nil || bytes.Equal(again, first) {
			t.Errorf("%s: the same bytes of another issue: %v", paper, err)
		}
	}
}
