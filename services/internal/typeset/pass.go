package typeset

import (
	"errors"
	"fmt"
	"maps"
	"reflect"
)

// pass is what one pass over a document found out, for the next one to print.
type pass struct {
	anchors  map[string]int   // page of each
	digits   map[string]int   // the most digits that page had in any pass
	headings []found          // in order
	terms    map[string][]int // pages of what the index names
	pages    int
}

// found is a heading with its page.
type found struct {
	headed
	page int
}

// survey finds out what is on which page.
func survey(pages []page, before pass) pass {
	p := pass{anchors: map[string]int{}, digits: map[string]int{}, terms: map[string][]int{}, pages: len(pages)}
	maps.Copy(p.digits, before.digits)
	for _, pg := range pages {
		for _, st := range pg.stands {
			for _, a := range st.anchors {
				p.anchors[a] = pg.number
				p.digits[a] = max(p.digits[a], len(fmt.Sprint(pg.number)))
			}
			for _, t := range st.terms {
				p.terms[t] = append(p.terms[t], pg.number)
			}
			if st.heading != nil && st.heading.anchor != "" {
				p.headings = append(p.headings, found{*st.heading, pg.number})
			}
		}
	}
	return p
}

// passes is how many there may be. Two to five are usual: the first finds the
// pages, the second has contents of the right length, and so on until nothing
// moves.
const passes = 30

// laid is a document on its pages.
type laid struct {
	sheet
	faces *typefaces
	doc   Document
	print Print
	pages []page
	last  pass
}

// lay sets a document again and again until each page that it names is right.
func lay(d Document, p Print) (*laid, error) {
	sh, err := sheetOf(p.Paper)
	if err != nil {
		return nil, err
	}
	if p.Tight {
		sh = sh.tight()
	}
	faces, err := loaded()
	if err != nil {
		return nil, err
	}
	phrases := d.phrases()
	before := pass{}
	for range passes {
		s := &setter{sheet: sh, doc: d, before: before}
		s.speller = speller{faces: faces, phrases: phrases, page: func(anchor string) (int, int) {
			return before.anchors[anchor], max(before.digits[anchor], 1)
		}}
		pages := paginate(s.set(), sh.textHeight(), p.Duplex)
		now := survey(pages, before)
		if reflect.DeepEqual(now, before) {
			return &laid{sheet: sh, faces: faces, doc: d, print: p, pages: pages, last: now}, nil
		}
		before = now
	}
	return nil, errors.New("the pages of the document do not settle: put its index at the end")
}

func (d Document) phrases() Phrases {
	if d.Phrases != nil {
		return *d.Phrases
	}
	return English()
}

func (d Document) language() string {
	if d.Language == "" {
		return "en"
	}
	return d.Language
}
