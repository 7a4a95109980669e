package exchange

import (
	"fmt"
	"math"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/vehicle"
)

// Place is where in the files something stands.
type Place struct{ source, row int32 }

// Draft is one record that is to be imported, with its lines.
type Draft struct {
	Table *Table
	Name  string // resource name

	place   Place
	bad     bool           // something is wrong with it already
	misread bool           // it lacks something that could not be read
	same    bool           // it is there already, the same
	met     bool           // there is a record of its name already
	layout  *Layout        // of the file that it stands in; nil for a document
	etag    string         // of the record that it replaces
	row     []byte         // its message, without the lines
	lines   []line         // as read; see Collection.Message
	where   map[string]int // of a document: line of each path
	refused []refusal      // when it was read, or by Refuse
}

// line is one row of a table of lines.
type line struct {
	table  *Table
	layout *Layout
	place  Place
	join   string // for a line of a line: what the other's field must be
	row    []byte
}

// pending is a line whose record has not been met yet.
type pending struct {
	line
	name string // of the record; empty when only its identifier is known
	id   string
}

type source struct {
	file, sheet string
	table       *Table // nil for documents
}

// Collection is everything that was read, before anything is imported. It is
// filled by one goroutine.
type Collection struct {
	Faults Faults

	sources []source
	drafts  map[*Table][]*Draft
	byName  map[string]*Draft
	pending []pending
	counts  map[*Table]int
	rows    int
	lost    map[*Table]bool // see Unread
	lostAny bool            // of a file of which nobody knows the table

	notLooked []string // see NotLooked

	known    *known
	standing map[vehicle.Serial]*buildv1.Build    // see Standing
	happened map[vehicle.Serial][]*buildv1.Change // likewise
}

// MaxRows is the most rows that one import has, in all files together.
const MaxRows = 5_000_000

// NewCollection makes an empty collection.
func NewCollection() *Collection {
	return &Collection{drafts: map[*Table][]*Draft{}, byName: map[string]*Draft{}, counts: map[*Table]int{}, lost: map[*Table]bool{},
		known: newKnown(), standing: map[vehicle.Serial]*buildv1.Build{}, happened: map[vehicle.Serial][]*buildv1.Change{}}
}

// Drafts gives the records of a table in the order in which they were read.
func (c *Collection) Drafts(t *Table) []*Draft { return c.drafts[t] }

// Draft finds a record by its resource name; nil for none.
func (c *Collection) Draft(name string) *Draft { return c.byName[name] }

// Rows gives how many rows of a table, or documents of a kind, were read.
func (c *Collection) Rows(t *Table) int { return c.counts[t] }

// Sheet begins a table: one CSV file, or one sheet of a workbook.
func (c *Collection) Sheet(file, sheet string, t *Table) *Sheet {
	return &Sheet{collection: c, table: t, source: c.source(file, sheet, t)}
}

func (c *Collection) source(file, sheet string, t *Table) int32 {
	c.sources = append(c.sources, source{file, sheet, t})
	return int32(len(c.sources) - 1)
}

// Sheet takes in the rows of one table from one place.
type Sheet struct {
	collection *Collection
	table      *Table
	source     int32
	layout     *Layout
}

// Row takes in the next row; number is its row as a spreadsheet counts. The
// first row that is not empty is the header. It reports false when no more
// rows are wanted: the header cannot be understood, or there are too many.
func (s *Sheet) Row(number int, cells []Cell) bool {
	if s.layout == nil {
		return s.header(number, cells)
	}
	c := s.collection
	place := Place{s.source, int32(min(number, math.MaxInt32))}
	var refused []refusal
	r := s.layout.readRow(cells, func(column, got, want string) {
		refused = append(refused, refusal{place, column})
		c.at(place, column, got, want)
	})
	if r == nil {
		return true
	}
	c.counts[s.table]++
	if c.rows++; c.rows > MaxRows {
		c.at(place, "", "", fmt.Sprintf("at most %d rows in one import", MaxRows))
		c.lostAny = true
		return false
	}
	c.take(s.layout, place, r, refused)
	return true
}

func (s *Sheet) header(number int, cells []Cell) bool {
	if blank(cells) {
		return true
	}
	refused := false
	place := Place{s.source, int32(min(number, math.MaxInt32))}
	s.layout = s.table.ReadHeader(cells, func(column, got, want string) {
		refused = true
		s.collection.at(place, column, got, want)
	})
	s.layout.place = place
	// A table with an unknown column is read on, so that one report has all; one
	// that lacks a column, which the unknown one may be, would say so in every row.
	if refused {
		s.collection.lost[s.table] = true
		return s.lacksNone(place)
	}
	return true
}

// lacksNone says whether a header that was refused has all required columns,
// and reports those that it lacks and that were not reported yet.
func (s *Sheet) lacksNone(place Place) bool {
	none := true
	for i, c := range s.table.Columns {
		if c.Required && !s.layout.has[i] {
			none = false
			if !s.table.indispensable(i) {
				s.collection.at(place, c.Name, "", "the column "+c.Name)
			}
		}
	}
	return none
}

// take keeps a row as a record, or as a line of one.
func (c *Collection) take(l *Layout, place Place, r *row, refused []refusal) {
	t := l.table
	t.identify(r)
	name, named := t.name(r.keys)
	if t.IsLine() {
		c.takeLine(l, place, r, name, named)
		return
	}
	if !named {
		c.lost[t] = true
		return // what is wrong with its keys has been said
	}
	c.keep(&Draft{Table: t, Name: name, layout: l, place: place, bad: r.bad, misread: r.bad, row: encode(r.message), refused: refused})
}

// keep adds a record; a second one of the same name is refused.
func (c *Collection) keep(d *Draft) {
	if first := c.byName[d.Name]; first != nil {
		c.at(d.place, "", d.Name, "each record once: it stands in "+c.placeText(first.place)+" too")
		return
	}
	c.byName[d.Name] = d
	c.drafts[d.Table] = append(c.drafts[d.Table], d)
}

func (c *Collection) takeLine(layout *Layout, place Place, r *row, name string, named bool) {
	t := layout.table
	l := line{table: t, layout: layout, place: place, join: r.keys["line"], row: encode(r.message)}
	switch {
	case r.bad:
		c.lost[t] = true
	case named && c.byName[name] != nil:
		d := c.byName[name]
		d.lines = append(d.lines, l)
	case named:
		c.pending = append(c.pending, pending{line: l, name: name})
	case t.fallback && r.keys["id"] != "":
		c.pending = append(c.pending, pending{line: l, id: r.keys["id"]})
	}
}

// Join brings the lines that were read before their records to them, after
// everything was read. A line without a record is a fault.
func (c *Collection) Join() {
	byID := map[string]map[string][]*Draft{} // by the table of the records
	for _, p := range c.pending {
		if p.name == "" && byID[p.table.parent] == nil {
			of := map[string][]*Draft{}
			for _, d := range c.drafts[TableNamed(p.table.parent)] {
				id := d.Name[strings.LastIndexByte(d.Name, '/')+1:]
				of[id] = append(of[id], d)
			}
			byID[p.table.parent] = of
		}
		found := byID[p.table.parent][p.id]
		if p.name != "" {
			found = nil
			if d := c.byName[p.name]; d != nil {
				found = []*Draft{d}
			}
		}
		c.adopt(p, found)
	}
	c.pending = nil
}

func (c *Collection) adopt(p pending, found []*Draft) {
	sought := p.name
	if sought == "" {
		sought = p.id
	}
	switch len(found) {
	case 1:
		found[0].lines = append(found[0].lines, p.line)
	case 0:
		if c.isLost(TableNamed(p.table.parent)) {
			return
		}
		c.at(p.place, "", sought, "a row of that name in the table "+p.table.parent+", in the same import")
	default:
		c.at(p.place, "serial", "", "the serial, for several entries are called "+sought)
	}
}

// Message puts the record together with its lines.
func (c *Collection) Message(d *Draft) proto.Message {
	m := d.Table.message.New()
	decode(d.row, m)
	m.Set(m.Descriptor().Fields().ByName("name"), protoreflect.ValueOfString(d.Name))
	for _, l := range d.lines {
		if l.table.joins == "" {
			l.appendTo(m, l.table.field)
		}
	}
	for _, l := range d.lines {
		if l.table.joins != "" {
			l.appendToLine(m)
		}
	}
	return m.Interface()
}

// appendTo adds the line to a list of m.
func (l *line) appendTo(m protoreflect.Message, field string) {
	list := m.Mutable(m.Descriptor().Fields().ByName(protoreflect.Name(field))).List()
	element := list.NewElement()
	decode(l.row, element.Message())
	list.Append(element)
}

// appendToLine adds the line to the line of m that it joins; false when there
// is none.
func (l *line) appendToLine(m protoreflect.Message) bool {
	outer, inner, _ := strings.Cut(l.table.field, ".")
	list := m.Get(m.Descriptor().Fields().ByName(protoreflect.Name(outer))).List()
	for i := range list.Len() {
		element := list.Get(i).Message()
		if element.Get(element.Descriptor().Fields().ByName(protoreflect.Name(l.table.joins))).String() == l.join {
			l.appendTo(element, inner)
			return true
		}
	}
	return false
}

// at notes a fault at a place.
func (c *Collection) at(p Place, column, got, want string) {
	s := c.sources[p.source]
	c.Faults.Add(Fault{File: s.file, Sheet: s.sheet, Row: int(p.row), Column: column, Got: got, Want: want})
}

// placeText names a place within a sentence.
func (c *Collection) placeText(p Place) string {
	s := c.sources[p.source]
	where := s.file
	if s.sheet != "" {
		where += ", sheet " + s.sheet
	}
	return fmt.Sprintf("%s, row %d", where, p.row)
}

// encode never fails: the message holds valid UTF-8, and nothing else can be
// wrong with one.
func encode(m protoreflect.Message) []byte {
	b, err := proto.MarshalOptions{Deterministic: true}.Marshal(m.Interface())
	if err != nil {
		panic(fmt.Sprintf("exchange: encode %s: %v", m.Descriptor().FullName(), err))
	}
	return b
}

// decode reads what encode wrote.
func decode(b []byte, m protoreflect.Message) {
	if err := (proto.UnmarshalOptions{Merge: true}).Unmarshal(b, m.Interface()); err != nil {
		panic(fmt.Sprintf("exchange: decode %s: %v", m.Descriptor().FullName(), err))
	}
}

// Standing notes the record of a vehicle that is there and what happened to
// it, as far as the import has changes for it.
func (c *Collection) Standing(serial vehicle.Serial, b *buildv1.Build, changes []*buildv1.Change) {
	c.standing[serial], c.happened[serial] = b, changes
}
