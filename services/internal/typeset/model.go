package typeset

// Document is what is printed, in the order in which it is read.
type Document struct {
	Title    string   // what it is: "Owner's handbook for AM0147P"
	Edition  string   // which one it is: "Issue 3 of 5 April 2027"
	Head     string   // stands at the head of each page; the title where it is empty
	Language string   // a BCP 47 tag; "en" where it is empty
	Phrases  *Phrases // what the typesetter says itself; English where it is nil
	Cover    *Cover   // a page of its own before the blocks; nil for none
	Blocks   []Block
}

// Cover is a title page. The document's title and edition stand on it by
// themselves.
type Cover struct {
	Name  string       // above the title: the works
	Rows  []Definition // below it: serial, release, when it was built
	Small []Runs       // at the foot: whose it is, where to ask
}

// Block is a part of a document: one of the types of this file.
type Block interface{ block() }

// Heading begins a part of the document. Those of level 1 begin a chapter.
type Heading struct {
	Level   int // 1 to 3
	Text    string
	Anchor  string   // what references name; "" for none
	Index   []string // where the index sends the reader here; "oil, grade" files "grade" under "oil"
	Changed bool     // since the issue before: a bar stands in the margin
}

// Paragraph is running text.
type Paragraph struct {
	Runs    Runs
	Anchor  string
	Index   []string
	Small   bool // in small type: sources, notes
	Changed bool
}

// List is a list of items, with numbers where their order counts.
type List struct {
	Numbered bool
	Start    int // the first number; 1 where it is 0
	Items    []Item
}

// Item is one item of a list. A caution stands before it, on the same page as
// the whole of the item's own words.
type Item struct {
	Runs    Runs
	Caution *Caution
	Blocks  []Block // what belongs to the item and follows its words
	Changed bool
}

// Definitions are rows of a term and what there is to say of it.
type Definitions struct{ Rows []Definition }

// Definition is a term and what there is to say of it.
type Definition struct {
	Term    string
	Text    Runs
	Changed bool
}

// Align says at which side of its column a cell stands.
type Align int

// The sides. Figures are set right, so that their units stand below each other.
const (
	Left Align = iota
	Right
	Centre
)

// Column is a column of a table.
type Column struct {
	Head   string
	Weight float64 // its share of the width beside the others; 1 where it is 0
	Align  Align
}

// Table is a table with its head repeated on each page. A row is never parted,
// unless it is higher than a page; rows of a group stay on one page where they
// fit.
type Table struct {
	Caption  string // what it shows, for whoever does not see it whole; printed above it
	Columns  []Column
	Groups   []Group
	RowHeads bool // the first cell of each row names the row
	Anchor   string
	Index    []string
	Dense    bool // in small type, for many rows
}

// Group is rows that belong together.
type Group struct {
	Title string // a line of its own above the rows; "" for none
	Rows  []Row
}

// Row is a row of a table, one cell to each column.
type Row struct {
	Cells   []Cell
	Changed bool
}

// Cell is a cell of a table.
type Cell struct {
	Runs  Runs
	Blank bool // a line to write on stands in it, before its words
	Tick  bool // a box to tick stands in it, before its words
}

// Caution says where work can hurt. It is never parted, and what follows it, the
// step beside which it stands, begins on the same page and is not parted either.
type Caution struct {
	Word    string // "Caution", "Danger of fire"
	Grave   bool   // it can kill: a heavy frame all round, and a sign beside the word
	Texts   []Runs
	Changed bool
}

// Fields are lines and boxes to fill in by hand. A field is not parted, and
// all of them stay together where they fit on a page.
type Fields struct{ Fields []Field }

// FieldKind says what is to be filled in.
type FieldKind int

// The kinds of fields.
const (
	Line FieldKind = iota // a line for a number, a date, a name
	Tick                  // a box to tick before the label
	Room                  // an empty box for remarks, as many lines high as Lines
)

// Field is one thing to fill in by hand.
type Field struct {
	Kind    FieldKind
	Label   string
	Unit    string // behind the line
	Note    string // in small type: the limits it is compared with
	Lines   int    // height of a Room; 3 where it is 0
	Changed bool
}

// Together is blocks that stay on one page where they fit on one.
type Together struct{ Blocks []Block }

// Columns sets its blocks in columns of about the same height. They are
// paragraphs, lists and definitions; on a narrow sheet and on a narrow screen
// they stand below each other.
type Columns struct {
	Count  int // 2 or 3
	Blocks []Block
}

// PageBreak begins a page.
type PageBreak struct {
	Front bool // a right-hand page, where the sheet is printed on both sides
}

// Contents lists the headings with their pages. Where there are none, its title
// is left out too.
type Contents struct {
	Title string
	Depth int // 1 to 3; 2 where it is 0
}

// Index lists what the headings, paragraphs, tables and figures are filed under.
// Where there is nothing, its title is left out too.
type Index struct{ Title string }

func (Heading) block()     {}
func (Paragraph) block()   {}
func (List) block()        {}
func (Definitions) block() {}
func (Table) block()       {}
func (Caution) block()     {}
func (Figure) block()      {}
func (Fields) block()      {}
func (Together) block()    {}
func (Columns) block()     {}
func (PageBreak) block()   {}
func (Contents) block()    {}
func (Index) block()       {}
