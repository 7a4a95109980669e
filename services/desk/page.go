package desk

import (
	"html/template"
	"io"
	"net/http"
	"slices"
	"strings"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
)

// view is a page: its one heading, and what stands below it.
type view struct {
	Title  string
	Works  string
	Who    string // who is signed in; "" for nobody
	Menu   []link
	Box    *box   // where staff say what they look for; nil for others
	Wide   bool   // tables need room
	Note   string // what was just done
	Blocks []block
	Aside  []block // beside them, where there is room

	Serial   bool // the title is one, and is read out
	Below    string
	Warnings []string // what must be said before anything else
	Lead     []block  // what is seen at once, a field each
	Tabs     []link   // pages of the same thing
}

// block is one part of a page; what is empty of it is left out.
type block struct {
	ID      string // for scripts; "" for none
	Anchor  string // where a link within the page leads; "" for none
	Heading string
	Text    []string
	Facts   []fact
	Codes   []string // to be written down
	Secret  *secret
	Figure  *scan
	List    []entry
	Fold    string        // what the list is folded away under; "" for open
	Drawing template.HTML // a figure of the package figure
	Form    *form
	Table   *table
	Links   []link
}

// secret is shown this once, in a field from which it is copied whole.
type secret struct{ Label, Value string }

type fact struct {
	Label, Value string
	Mono         bool // is to be read letter by letter
}

type link struct {
	Label, Path string
	Here        bool // the page is this one
}

// table is a list of things with their properties. On a narrow screen each row
// stands by itself, and a cell says its heading.
type table struct {
	Caption string
	Heads   []string
	Rows    [][]cell
	Empty   string // what is said when there is no row
	Plain   bool   // cells need no heading on a narrow screen; the first stands beside the others
}

type cell struct {
	Text string
	Path string // where it leads
	Sub  string // below it, smaller
	Mono bool
	Over bool // the only one of its row: a heading of the rows below

	Anchor string // of such a heading: where a link within the page leads

	Tight bool     // is not broken over lines where there is room
	Why   []string // reasons, which a reader opens
	Form  *form
	More  *form // a second one
}

// form is what is sent.
type form struct {
	ID      string // of the page's forms
	Short   bool   // fields and button in a row, where there is room
	Action  string
	Get     bool
	Submit  string
	Grave   bool // takes something away
	Second  bool // is not what most come to the page for
	Fields  []field
	Error   string
	Passkey string   // what the script asks of the browser: "get" or "create"
	Also    []option // further buttons: the one that was pressed is in the field "do"
	Upload  bool     // has files
}

type field struct {
	Name, Label, Type, Value, Hint, Error string
	Autocomplete, Inputmode               string
	Options                               []option
	Required                              bool
	Lines                                 int    // of a text of several lines; 0 for one
	Checked                               bool   // of a "checkbox"
	Legend                                string // heads the fields from here on
	stands                                string // what is on record, where something else was entered
	Accept                                string // of a "file": which kinds, as in ".csv,.xlsx"; any number of them
}

type option struct {
	Value, Label string
	Chosen       bool
}

// message prints a page that says something.
func (v *visit) message(status int, title, text string) {
	back := link{Label: "Go on", Path: "/"}
	if v.signed == nil {
		back = link{Label: "Sign in", Path: "/sign-in"}
	}
	v.render(status, view{Title: title, Blocks: []block{{Text: []string{text}, Links: []link{back}}}})
}

// show prints a page.
func (v *visit) show(title string, blocks ...block) {
	v.render(http.StatusOK, view{Title: title, Note: notes[v.r.URL.Query().Get("done")], Blocks: blocks})
}

// notes are what a page says of what was just done, by the word in its address.
var notes = map[string]string{
	"made":               "It was made.",
	"changed":            "The change was kept.",
	"closed":             "It is closed. Sessions and keys that belong to it open nothing any more.",
	"opened":             "It is open again.",
	"ended":              "The session is over.",
	"all-ended":          "The sessions are over.",
	"removed":            "That way of signing in is gone.",
	"password":           "The password was changed, and all other sessions are over.",
	"passkey":            "The passkey was added.",
	"completed":          "The work is complete, and the vehicle is with you no longer.",
	"reading":            "The reading was recorded.",
	"settled":            "The decision was recorded, and the schedule goes by it.",
	"service":            "The work was recorded.",
	"struck":             "The work is struck out, and counts as if it had never been.",
	"enquiry":            "The enquiry was recorded.",
	"answered":           "The answer was recorded.",
	"step":               "The step was recorded.",
	"standing":           "What became of it was recorded.",
	"contact":            "The change was kept: from now on they are reached so.",
	"new-owner":          "The new owner was recorded, and the former one's links and notices have ended.",
	"use":                "The use was recorded, and the schedule goes by it.",
	"assigned":           "They see the vehicle and its record from now on.",
	"assignment-ended":   "They see the vehicle and its record no longer.",
	"use-ended":          "The end was recorded, and the schedule goes by it.",
	"odometer":           "The other odometer was recorded, and readings are counted with it.",
	"handbook-issued":    "The handbook was issued.",
	"handbook-sent":      "The handbook is on its way.",
	"handbook-sent-some": "The handbook is on its way, but not to everybody who owns the vehicle: see below to whom.",
	"revoked":            "The key was revoked and opens nothing any more.",
}

// menu is what somebody may open.
func (v *visit) menu() []link {
	if v.signed == nil {
		return nil
	}
	all := []link{{Label: "Home", Path: "/"}}
	if v.staff() {
		all = append(all, staffPages...)
	}
	if v.signed.Account.GetRole() == accessv1.Role_ROLE_ADMINISTRATOR {
		all = append(all, administration...)
	}
	all = append(all, link{Label: "My account", Path: "/account"})
	out := make([]link, len(all))
	for i, l := range all {
		path := v.r.URL.Path
		l.Here = path == l.Path || l.Path != "/" && strings.HasPrefix(path, l.Path+"/")
		out[i] = l
	}
	return out
}

// staffPages are what all staff may open besides vehicles.
var staffPages = []link{{Label: "Fleet", Path: "/fleet"}, {Label: "Works", Path: "/works"}}

// staff reports whether somebody of the works is signed in.
func (v *visit) staff() bool {
	return v.signed != nil && slices.Contains(staffRoles, v.signed.Account.GetRole())
}

var administration = []link{
	{Label: "Accounts", Path: "/accounts"}, {Label: "Organisations", Path: "/organisations"},
	{Label: "Keys", Path: "/keys"}, {Label: "Audit", Path: "/audit"},
}

// render renders first and writes afterwards, so that nobody sees half a page.
func (v *visit) render(status int, p view) {
	p.Works, p.Menu = v.d.Works, v.menu()
	if p.Works == "" {
		p.Works = "The works"
	}
	if v.signed != nil {
		p.Who = v.signed.Account.GetFullName()
	}
	if p.Box == nil && v.staff() {
		p.Box = v.box()
	}
	for _, b := range p.Blocks {
		p.Wide = p.Wide || len(p.Tabs) > 0 || b.Table != nil && len(b.Table.Heads) > 3
	}
	var b strings.Builder
	if err := v.d.page.ExecuteTemplate(&b, "page", p); err != nil {
		v.d.Logger.Error("a page could not be rendered", "page", p.Title, "error", err)
		http.Error(v.w, "We cannot answer at the moment.", http.StatusInternalServerError)
		return
	}
	v.w.Header().Set("Content-Type", "text/html; charset=utf-8")
	v.w.WriteHeader(status)
	io.WriteString(v.w, b.String()) //nolint:errcheck // the reader is gone
}
