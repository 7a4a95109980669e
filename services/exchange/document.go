package exchange

import (
	"math"
	"strings"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
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
	FollowUps = &Document{key: "enter_date", Table: Table{
		Name: "follow ups", Service: Bulletin, wrap: "follow_up", frozen: true, pattern: "vehicles/{serial}/followUps/{campaign}",
		Doc:     "A vehicle on the list of a campaign, with what happened to it since, and who recorded it. A letter that it says was written is not written again where it is imported.",
		message: (&bulletinv1.FollowUp{}).ProtoReflect().Type(),
	}}
	Bulletins = &Document{key: "consequence", Table: Table{
		Name: "bulletins", Service: Bulletin, wrap: "bulletin", frozen: true, pattern: "bulletins/{bulletin}/versions/{version}",
		Doc:     "A version of advice for a set of vehicles, or of a campaign. One that is imported is in the state that it says; it is not issued by that, so that nobody comes on its list but those with a follow up.",
		message: (&bulletinv1.Bulletin{}).ProtoReflect().Type(),
	}}
	WarrantyTerms = &Document{key: "covers_parts", Table: Table{
		Name: "warranty terms", Service: Warranty, wrap: "warranty_term", frozen: true, pattern: "warrantyTerms/{term}/versions/{version}",
		Doc:     "A version of what somebody promises for a vehicle or for what is fitted on it.",
		message: (&warrantyv1.WarrantyTerm{}).ProtoReflect().Type(),
	}}
	Claims = &Document{key: "symptom", Table: Table{
		Name: "claims", Service: Warranty, wrap: "claim", frozen: true, pattern: "vehicles/{serial}/claims/{id}",
		Doc:     "A claim on a warranty with all that was done to it, by whom and when. Amounts are in hundredths of the currency. Who recorded it and when is filled in where it is not said.",
		message: (&warrantyv1.Claim{}).ProtoReflect().Type(),
	}}
	Books = &Document{key: "chapters", Table: Table{
		Name: "books", Service: Handbook, wrap: "book", frozen: true, pattern: "books/{book}/versions/{version}",
		Doc:     "A version of the text from which handbooks are made.",
		message: (&handbookv1.Book{}).ProtoReflect().Type(),
	}}
	HandbookIssues = &Document{key: "choices", Table: Table{
		Name: "handbook issues", Service: Handbook, wrap: "handbook_issue", frozen: true, pattern: "vehicles/{serial}/handbookIssues/{issue}",
		Doc:     "A handbook that was issued. Its files lie beside it in the folder handbook_files, each under its SHA-256; an issue is taken in with all of them or not at all.",
		message: (&handbookv1.HandbookIssue{}).ProtoReflect().Type(),
	}}
)

// Documents lists the kinds of document.
func Documents() []*Document {
	return []*Document{Releases, Amendments, Programmes, FollowUps, Bulletins, WarrantyTerms, Claims, Books, HandbookIssues}
}

// DocumentOf finds the kind of document that a message is written as; nil for
// what has a table.
func DocumentOf(m proto.Message) *Document {
	for _, d := range Documents() {
		if d.message.Descriptor() == m.ProtoReflect().Descriptor() {
			return d
		}
	}
	return nil
}

// Folder is where an export keeps the documents of a kind, and File is what the
// one of a name is called in it: the parts of the name that tell it from others.
func (d *Document) Folder() string { return d.FileName() }

// File gives the name of a document's file; see Folder.
func (d *Document) File(name string) string {
	var parts []string
	got := strings.Split(name, "/")
	for i, want := range strings.Split(d.pattern, "/") {
		switch {
		case i >= len(got) || !strings.HasPrefix(want, "{"):
		case want == "{version}":
			parts = append(parts, "v"+got[i])
		default:
			parts = append(parts, got[i])
		}
	}
	return strings.Join(parts, ".") + ".yaml"
}

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
		c.at(place, "name", t.text("name"), "releases/R3, programmes/packhorse/versions/1 builds/AM0147P/amendments/0192f0, bulletins/C-2026-02/versions/1, vehicles/AM0147P/followUps/C-2026-02, warrantyTerms/WORKS/versions/1, vehicles/AM0147P/claims/0192f0, books/packhorse/versions/1 or vehicles/AM0147P/handbookIssues/1")
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
