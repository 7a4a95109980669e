package handbook

import (
	"strings"

	"halfshaft/services/vehicle"
)

// Handbook is what is printed for one vehicle. It is archived as JSON with each
// issue, and a later one is compared with it.
type Handbook struct {
	Book     string         `json:"book"` // resource name of the version
	Title    string         `json:"title"`
	Language string         `json:"language"`
	Serial   vehicle.Serial `json:"serial"`
	Release  string         `json:"release"`
	On       vehicle.Date   `json:"on"`
	Sample   bool           `json:"sample,omitempty"`
	SignedBy string         `json:"signedBy,omitempty"`
	Works    ContactPlace   `json:"works"`
	Cover    [][2]string    `json:"cover,omitempty"` // rows of the title page
	Chapters []MadeChapter  `json:"chapters"`
}

// MadeChapter is a chapter with the sections that hold. Number is its place in
// the book, whatever was left out before it.
type MadeChapter struct {
	Number   int           `json:"number"`
	Title    string        `json:"title"`
	Sections []MadeSection `json:"sections"`
}

// MadeSection is a section filled in.
type MadeSection struct {
	ID      string   `json:"id"`
	Title   string   `json:"title,omitempty"`
	Index   []string `json:"index,omitempty"`
	Blocks  []Block  `json:"blocks"`
	Changed bool     `json:"-"` // its heading, or something was left out of it
}

// Block is one of its fields.
type Block struct {
	Text    Words        `json:"text,omitempty"`
	Steps   []Item       `json:"steps,omitempty"`
	Points  []Item       `json:"points,omitempty"`
	Warning *MadeWarning `json:"warning,omitempty"`
	Table   *Table       `json:"table,omitempty"`
	Picture *Picture     `json:"picture,omitempty"`
	Lines   []string     `json:"lines,omitempty"`
	Changed bool         `json:"-"` // the whole of it, but for items and rows, which say so themselves
}

// Item is a step or a point.
type Item struct {
	Text    Words        `json:"text"`
	Warning *MadeWarning `json:"warning,omitempty"`
	Changed bool         `json:"-"`
}

// MadeWarning is a caution filled in.
type MadeWarning struct {
	Word string `json:"word"`
	Text Words  `json:"text"`
}

// RunKind says how a run is set.
type RunKind string

// The kinds of runs.
const (
	Plain    RunKind = ""
	Emphasis RunKind = "emphasis"
	Strong   RunKind = "strong"
	Value    RunKind = "value" // a number with its unit, never parted
	See      RunKind = "see"   // a reference to the section To
)

// Run is words that are set alike.
type Run struct {
	Kind RunKind `json:"kind,omitempty"`
	Text string  `json:"text"`
	Unit string  `json:"unit,omitempty"`
	To   string  `json:"to,omitempty"`
}

// Words is running text.
type Words []Run

// Said is plain running text.
func Said(text string) Words { return Words{{Text: text}} }

// String is the text without marks.
func (w Words) String() string {
	var b strings.Builder
	for _, r := range w {
		b.WriteString(r.Text)
		if r.Unit != "" {
			b.WriteString(" " + r.Unit)
		}
	}
	return b.String()
}

// Table is a table of a vehicle's values.
type Table struct {
	Caption string   `json:"caption"`
	Columns []Column `json:"columns"`
	Groups  []Group  `json:"groups"`
	Note    string   `json:"note,omitempty"`
	Dense   bool     `json:"dense,omitempty"`
}

// Column is a column of a table.
type Column struct {
	Head   string  `json:"head"`
	Weight float64 `json:"weight,omitempty"`
	Right  bool    `json:"right,omitempty"`
}

// Group is rows that belong together.
type Group struct {
	Title string `json:"title,omitempty"`
	Rows  []Row  `json:"rows"`
}

// Row is a row, a cell to each column.
type Row struct {
	Cells   []Cell `json:"cells"`
	Changed bool   `json:"-"`
}

// Cell is a cell. A blank one is filled in by hand.
type Cell struct {
	Words Words `json:"words,omitempty"`
	Blank bool  `json:"blank,omitempty"`
}

// rowOf is a row of plain texts.
func rowOf(texts ...string) Row {
	r := Row{}
	for _, t := range texts {
		c := Cell{}
		if t != "" {
			c.Words = Said(t)
		}
		r.Cells = append(r.Cells, c)
	}
	return r
}

// String is the row in a line.
func (r Row) String() string {
	var texts []string
	for _, c := range r.Cells {
		if t := c.Words.String(); t != "" {
			texts = append(texts, t)
		}
	}
	return strings.Join(texts, ", ")
}

// Picture is what a picture shows, as plain values.
type Picture struct {
	Kind     PictureKind   `json:"kind"`
	Caption  string        `json:"caption"`
	Vehicle  string        `json:"vehicle"`
	Unit     string        `json:"unit,omitempty"` // "mi" or "km": the habit of the dial
	Gears    []PictureGear `json:"gears,omitempty"`
	Dial     []DialSpeed   `json:"dial,omitempty"`
	Unsynced []int         `json:"unsynced,omitempty"` // gears without synchromesh
	Low      bool          `json:"low,omitempty"`      // whether there is a low range
}

// PictureGear is a gear in a range.
type PictureGear struct {
	Gear        int     `json:"gear"`
	Low         bool    `json:"low,omitempty"`
	PerThousand float64 `json:"perThousand"` // km/h at 1,000 rev/min
}

// DialSpeed is a true speed and what the dial shows at it, both in km/h.
type DialSpeed struct {
	True  float64 `json:"true"`
	Shown float64 `json:"shown"`
}
