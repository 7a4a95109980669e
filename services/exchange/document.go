package exchange

import (
	"math"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
)

// Document describes a kind of YAML document: a record too deep for a table.
// Its keys are the fields of its message.
type Document struct {
	Table
	key string // a key that only such documents have, where the name does not tell
}

// The kinds of document.
var (
	Releases = &Document{key: "fitments", Table: Table{
		Name: "releases", Service: Build, wrap: "release", frozen: true, pattern: "releases/{id}",
		Doc:     "A release of the specification.",
		message: (&buildv1.Release{}).ProtoReflect().Type(),
	}}
	Amendments = &Document{key: "before", Table: Table{
		Name: "amendments", Service: Build, wrap: "amendment", frozen: true, pattern: "builds/{serial}/amendments/{id}",
		Doc:     "A correction of a build record, with the whole record before it.",
		message: (&buildv1.Amendment{}).ProtoReflect().Type(),
	}}
	Programmes = &Document{key: "items", Table: Table{
		Name: "programmes", Service: Schedule, wrap: "programme", frozen: true, pattern: "programmes/{programme}/versions/{version}",
		Doc:     "A version of a service programme.",
		message: (&schedulev1.Programme{}).ProtoReflect().Type(),
	}}
)

// Documents lists the kinds of document.
func Documents() []*Document { return []*Document{Releases, Amendments, Programmes} }

// Tree is a document as it was read or is to be written, whatever its
// language.
type Tree struct {
	Line  int     // from 1; 0 in a tree that is to be written
	Form  Form    // which of the fields below are used
	Text  string  // of a scalar
	Plain bool    // a scalar that is to be written without quotation marks
	Keys  []*Tree // of a map; each has its value in Items
	Items []*Tree
}

// Form is the form of a Tree.
type Form int

// The forms.
const (
	Nothing Form = iota // a key without a value
	Scalar
	Map
	List
)

// Document takes in one document of a file.
func (c *Collection) Document(file string, t *Tree) {
	place := Place{c.source(file, "", nil), int32(min(t.Line, math.MaxInt32))}
	if t.Form != Map {
		c.at(place, "", t.Text, "a document of keys and values")
		c.lostAny = true
		return
	}
	kind := kindOf(t)
	if kind == nil {
		c.at(place, "name", t.text("name"), "releases/R3, programmes/packhorse/versions/1 or builds/AM0147P/amendments/0192f0")
		c.lostAny = true
		return
	}
	r := &treeReader{collection: c, place: place, where: map[string]int{}}
	m := kind.message.New()
	r.fill(m, t, "")
	c.counts[&kind.Table]++
	name, ok := kind.nameOf(t.text("name"))
	if !ok || r.bad {
		c.lost[&kind.Table] = true
	}
	if !ok {
		c.at(place, "name", t.text("name"), kind.pattern)
		return
	}
	c.keep(&Draft{Table: &kind.Table, Name: name, place: place, bad: r.bad, misread: r.bad, row: encode(m), where: r.where})
}

// text gives the scalar under a key; empty for none.
func (t *Tree) text(key string) string {
	for i, k := range t.Keys {
		if k.Text == key && t.Items[i].Form == Scalar {
			return strings.TrimSpace(t.Items[i].Text)
		}
	}
	return ""
}

// kindOf tells the kind of a document by its name, or by a key that only one
// kind has.
func kindOf(t *Tree) *Document {
	name := t.text("name")
	for _, d := range Documents() {
		if _, ok := d.nameOf(name); ok && strings.Contains(name, "/") {
			return d
		}
	}
	for _, d := range Documents() {
		for _, k := range t.Keys {
			if k.Text == d.key {
				return d
			}
		}
	}
	return nil
}

// nameOf gives the resource name that a document's name means: the name
// itself, or, for a release, its identifier.
func (d *Document) nameOf(name string) (string, bool) {
	if d == Releases {
		name = "releases/" + strings.TrimPrefix(name, "releases/")
	}
	want, got := strings.Split(d.pattern, "/"), strings.Split(name, "/")
	if len(want) != len(got) {
		return "", false
	}
	for i := range want {
		if strings.HasPrefix(want[i], "{") {
			if want[i] == "{serial}" {
				c := Column{Kind: Serial}
				text, bad := c.key(got[i])
				if bad != nil {
					return "", false
				}
				got[i] = text
			} else if readIdentifier(got[i]) != nil {
				return "", false
			}
		} else if got[i] != want[i] {
			return "", false
		}
	}
	return strings.Join(got, "/"), true
}
