package handbook

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"halfshaft/services/wording"
)

// ChangeKind is how a section differs from the issue before.
type ChangeKind int

// The kinds.
const (
	SectionAdded ChangeKind = iota + 1
	SectionRemoved
	SectionChanged
)

// Change is a section that is not as it was.
type Change struct {
	Section  string
	Title    string
	Kind     ChangeKind
	Sentence string
}

// Compare says section by section what differs from an earlier handbook, in the
// order of the later one and then of what is gone. In the later one it marks
// what changed: a mark is what a bar in the margin is drawn from.
func Compare(before, now *Handbook) []Change {
	old := map[string]heading{}
	for _, p := range places(before) {
		old[p.section.ID] = p
	}
	var all []Change
	there := map[string]bool{}
	for _, p := range places(now) {
		there[p.section.ID] = true
		was, known := old[p.section.ID]
		if !known {
			markWhole(p.section)
			all = append(all, Change{p.section.ID, p.title, SectionAdded, fmt.Sprintf("“%s” is new.", p.title)})
			continue
		}
		if sentence := compareSection(was, p); sentence != "" {
			all = append(all, Change{p.section.ID, p.title, SectionChanged, sentence})
		}
	}
	for _, p := range places(before) {
		if !there[p.section.ID] {
			all = append(all, Change{p.section.ID, p.title, SectionRemoved, fmt.Sprintf("“%s” is not in it any more.", p.title)})
		}
	}
	return all
}

// heading is a section with the heading it stands under.
type heading struct {
	section *MadeSection
	title   string
}

func places(h *Handbook) []heading {
	var all []heading
	title := ""
	for i := range h.Chapters {
		for j := range h.Chapters[i].Sections {
			s := &h.Chapters[i].Sections[j]
			if s.Title != "" {
				title = s.Title
			}
			all = append(all, heading{s, title})
		}
	}
	return all
}

// unit is the least that is marked: a paragraph, a step, a row.
type unit struct {
	key  string // all of it, with its marks
	text string // for people
	row  string // caption of the table that it is a row of; empty for none
	mark func()
}

// compareSection marks what is new and says it in a sentence; empty when
// nothing differs.
func compareSection(was, now heading) string {
	if was.title == now.title && reflect.DeepEqual(was.section, now.section) {
		return "" // as most are
	}
	before, after := units(was.section), units(now.section)
	gone, come := differing(before, after)
	for _, u := range come {
		u.mark()
	}
	if was.title != now.title {
		now.section.Changed = true
		return fmt.Sprintf("“%s” was called “%s”. %s", now.title, was.title, told(gone, come))
	}
	if len(gone) == 0 && len(come) == 0 {
		return ""
	}
	if len(come) == 0 { // nothing of it is left to mark
		now.section.Changed = true
	}
	return told(gone, come)
}

// differing leaves out what both have in the same order, the longest such.
func differing(before, after []unit) (gone, come []unit) {
	longest := make([][]int, len(before)+1)
	for i := range longest {
		longest[i] = make([]int, len(after)+1)
	}
	for i := len(before) - 1; i >= 0; i-- {
		for j := len(after) - 1; j >= 0; j-- {
			if before[i].key == after[j].key {
				longest[i][j] = longest[i+1][j+1] + 1
			} else {
				longest[i][j] = max(longest[i+1][j], longest[i][j+1])
			}
		}
	}
	i, j := 0, 0
	for i < len(before) || j < len(after) {
		switch {
		case i < len(before) && j < len(after) && before[i].key == after[j].key:
			i, j = i+1, j+1
		case j == len(after) || i < len(before) && longest[i+1][j] >= longest[i][j+1]:
			gone, i = append(gone, before[i]), i+1
		default:
			come, j = append(come, after[j]), j+1
		}
	}
	return gone, come
}

// most is how many differences a sentence tells; the bars in the margin show
// the rest.
const most = 3

// told says what differs: as many out as in are taken for the same things with
// other values.
func told(gone, come []unit) string {
	said, gone, come := rowsTold(gone, come)
	if len(gone) == len(come) {
		for i := range gone {
			said = append(said, exchanged(gone[i].text, come[i].text))
		}
	} else {
		for _, u := range come {
			said = append(said, fmt.Sprintf("new: “%s”", short(u.text)))
		}
		for _, u := range gone {
			said = append(said, fmt.Sprintf("left out: “%s”", short(u.text)))
		}
	}
	if len(said) == 0 {
		return ""
	}
	rest := ""
	if n := len(said) - most; n > 0 {
		said, rest = said[:most], fmt.Sprintf("; and %d more", n)
	}
	text := strings.Join(said, "; ") + rest + "."
	return wording.UpperFirst(text)
}

// rowsTold counts the rows of tables in which more rows differ than a sentence
// tells one by one, and gives what is left to be told.
func rowsTold(gone, come []unit) (said []string, restGone, restCome []unit) {
	of, order := map[string]int{}, []string{}
	for _, u := range append(slices.Clone(come), gone...) {
		if u.row != "" && of[u.row] == 0 {
			order = append(order, u.row)
		}
		of[u.row]++
	}
	many := func(u unit) bool { return u.row != "" && of[u.row] > 2*most }
	for _, caption := range order {
		if !many(unit{row: caption}) {
			continue
		}
		n := 0
		for _, u := range come {
			if u.row == caption {
				n++
			}
		}
		if n == 0 {
			said = append(said, fmt.Sprintf("%d rows of the table “%s” are left out", of[caption], caption))
		} else {
			said = append(said, fmt.Sprintf("%d rows of the table “%s” are new or have other values", n, caption))
		}
	}
	return said, slices.DeleteFunc(slices.Clone(gone), many), slices.DeleteFunc(slices.Clone(come), many)
}

// exchanged says that a text stands for another one, and shows of long ones the
// part that differs.
func exchanged(was, now string) string {
	if was == now { // the values of a picture, the head or the note of a table
		return was + " is another"
	}
	was, now = apart(was, now)
	return fmt.Sprintf("“%s” is now “%s”", short(was), short(now))
}

// around is how many words of what is the same stand before and behind what
// differs.
const around = 4

// apart leaves out what two long texts have in common at their beginning and at
// their end.
func apart(was, now string) (string, string) {
	if len(was) <= longEnough && len(now) <= longEnough {
		return was, now
	}
	a, b := strings.Fields(was), strings.Fields(now)
	front := 0
	for front < len(a) && front < len(b) && a[front] == b[front] {
		front++
	}
	back := 0
	for back < len(a)-front && back < len(b)-front && a[len(a)-1-back] == b[len(b)-1-back] {
		back++
	}
	front, back = max(0, front-around), max(0, back-around)
	cut := func(words []string) string {
		text := strings.Join(words[front:len(words)-back], " ")
		if front > 0 {
			text = "… " + text
		}
		if back > 0 {
			text += " …"
		}
		return text
	}
	return cut(a), cut(b)
}

// longEnough is how many letters of a text a sentence shows.
const longEnough = 100

// short cuts a text at a word, at about a hundred letters, for quotation marks.
func short(text string) string {
	text = strings.TrimSuffix(text, ".") // the sentence has its own
	letters := []rune(text)
	if len(letters) <= longEnough {
		return text
	}
	cut := string(letters[:longEnough])
	if at := strings.LastIndex(cut, " "); at > 0 {
		cut = cut[:at]
	}
	return cut + " …"
}
