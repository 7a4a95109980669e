package exchange

import (
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// Service is one of the services that keep what is imported, in the order in
// which an import takes effect: what is referred to comes first.
type Service int

// The services.
const (
	Build Service = iota
	Parts
	Schedule
	Owner
	Bulletin
	Warranty
	Enquiry
	Handbook
	services
)

// String names the service as its package is named.
func (s Service) String() string {
	return [...]string{"build", "parts", "schedule", "owner", "bulletin", "warranty", "enquiry", "handbook"}[s]
}

// Services lists the services in the order of an import.
func Services() []Service {
	return []Service{Build, Parts, Schedule, Owner, Bulletin, Warranty, Enquiry, Handbook}
}

// Kind is how the cells of a column are written.
type Kind int

// The kinds.
const (
	Text     Kind = iota // words for people, in one line or several
	Word                 // an identifier: no spreadsheet may have turned it into a number or date
	Serial               // a vehicle's serial, in any spoken form, with its check character
	Date                 // a day: 2026-11-25, or a date cell
	Stamp                // a moment: 2026-11-25T08:00:00Z
	Whole                // a whole number, 0 or more
	Signed               // a whole number that may be below 0
	Number               // a decimal number; its digits are kept as written
	Measure              // a number with a unit: 0.10 mm
	Distance             // a number with mi or km
	Flag                 // yes or no
	Choice               // one of the words of an enum
	Choices              // several of them, in an order, separated by semicolons, commas or new lines
	Words                // identifiers, separated by semicolons, commas or new lines
	Lines                // texts, separated by semicolons or new lines
	Kit                  // part numbers with how many: AP-2050 x2; AP-2051
	Pack                 // shims with how many: 0.25 mm x2 (AP-2074); 0.13 mm
)

// Ref says what the content of a column must name, in the import or among what
// the services have already.
type Ref int

// The kinds of reference.
const (
	NoRef Ref = iota
	RefVehicle
	RefRelease
	RefOption
	RefPosition
	RefPart
	RefProgramme
	RefItem
	RefPerson
)

// Column is one column of a table.
type Column struct {
	Name     string // as in the header row: "fitted date"
	Path     string // field of the row's message: "tyre.size"; empty for a key
	Key      string // part of the record's name that the cell gives: "serial"
	Kind     Kind
	Ref      Ref
	Prefix   string // stands before the cell's text in the message: "parts/"
	Required bool
	Identity bool // takes part in the identifier of a record that has none
	Given    bool // set by the service when empty: compared only when a row has it
	Alone    bool // may be read, is never written: see the table's own lines
	Default  string
	Doc      string
}

// Table describes the rows of one kind.
type Table struct {
	Name    string // "service entries"
	Service Service
	Doc     string
	Columns []Column

	message  protoreflect.MessageType // of one row
	pattern  string                   // name of the record: "builds/{serial}"
	parent   string                   // table of the record that the rows are lines of
	field    string                   // the parent's field that the rows fill: "components"
	joins    string                   // for lines of lines: the field of the line that Key "line" must equal
	wrap     string                   // field of the service's import row: "build"
	frozen   bool                     // a record that is there is amended, never imported anew
	ordered  []fieldPath              // resolved Path of each column
	fallback bool                     // the parent may be found by its identifier alone
}

// FileName is the name that a file or sheet of the table has: "service_entries".
func (t *Table) FileName() string { return strings.ReplaceAll(t.Name, " ", "_") }

// IsLine says whether the rows are lines of a record in another table.
func (t *Table) IsLine() bool { return t.parent != "" }

// column finds a column by name; -1 for none.
func (t *Table) column(name string) int {
	for i := range t.Columns {
		if t.Columns[i].Name == name {
			return i
		}
	}
	return -1
}

// written gives the indexes of the columns that an export has.
func (t *Table) written() []int {
	var out []int
	for i := range t.Columns {
		if !t.Columns[i].Alone {
			out = append(out, i)
		}
	}
	return out
}

// Header gives the header row of an export.
func (t *Table) Header() []string {
	var out []string
	for _, i := range t.written() {
		out = append(out, t.Columns[i].Name)
	}
	return out
}

// Tables lists all tables: records before their lines, in the order of an
// import.
func Tables() []*Table { return all.list }

// TableNamed finds a table by the name of a file or sheet: case, spaces,
// hyphens and underscores do not matter, and a number may follow ("readings
// 2024"). It gives nil for none.
func TableNamed(name string) *Table {
	return all.byName[strings.TrimRight(squeeze(name), "0123456789")]
}

// squeeze leaves the letters and digits of a name in lower case.
func squeeze(name string) string {
	return strings.Map(func(r rune) rune {
		switch r {
		case ' ', '_', '-', '\u00a0', '\t', '\n':
			return -1
		}
		return r
	}, strings.ToLower(name))
}

// catalogue is all tables with their paths resolved.
type catalogue struct {
	list   []*Table
	byName map[string]*Table
}

var all = func() *catalogue {
	c := &catalogue{byName: map[string]*Table{}}
	for _, group := range [][]*Table{buildTables(), partsTables(), scheduleTables(), ownerTables(), warrantyTables(), enquiryTables()} {
		c.list = append(c.list, group...)
	}
	for _, t := range c.list {
		t.resolve()
		c.byName[squeeze(t.Name)] = t
	}
	return c
}()

// resolve looks up the fields that the columns name; a name that does not
// exist is a mistake in this package and found by its tests.
func (t *Table) resolve() {
	d := t.message.Descriptor()
	t.ordered = make([]fieldPath, len(t.Columns))
	for i, c := range t.Columns {
		if c.Path != "" {
			t.ordered[i] = mustPath(d, c.Path)
		}
	}
}
