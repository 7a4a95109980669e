package exchange

import (
	"regexp"
	"strings"

	"google.golang.org/protobuf/proto"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/fault"
	"halfshaft/services/parts/partswire"
)

// catalogueTables are those of the catalogue's records.
func catalogueTables() []*Table {
	var out []*Table
	for _, t := range Tables() {
		if t.Service == Parts && !t.IsLine() {
			out = append(out, t)
		}
	}
	return out
}

// checkCatalogue checks the rows of the catalogue, then the catalogue as a
// whole. A row that is missing or wrong leaves gaps and overlaps that are none,
// so these are looked for only when every row is right by itself.
func (c *Collection) checkCatalogue() {
	touched := len(c.drafts[&Releases.Table]) > 0
	wrong := c.catalogueLost()
	for _, t := range catalogueTables() {
		for _, d := range c.drafts[t] {
			touched = touched || !d.same
			if !d.same && !c.lacksColumns(d) {
				c.refuseAll(d, c.withoutLost(d, catalogueFaults(c.Message(d))))
			}
			wrong = wrong || d.bad
		}
	}
	if !touched && !wrong {
		return
	}
	if c.catalogueLost() {
		c.notLooked = append(c.notLooked, notWhole)
		return
	}
	found := c.known.catalogue.CheckRecords(c.known.releases)
	switch {
	case wrong || anyCondition(found):
		c.notLooked = append(c.notLooked, notWhole)
	default:
		found = c.known.catalogue.Check(c.known.releases)
	}
	for _, f := range found {
		if m := rowsOf.FindStringSubmatch(f.Name); m == nil || c.byName[m[1]] == nil || !c.byName[m[1]].misread {
			c.RefuseRow(f)
		}
	}
}

const notWhole = "Whether the catalogue is whole, without gaps, overlaps, circles and dead ends, was not looked at, because rows of it or of the releases are wrong or could not be read: mend those first."

// lacksColumns says whether a new record's file has not all that it needs, which
// has been said once for the file.
func (c *Collection) lacksColumns(d *Draft) bool {
	for i := range d.Table.Columns {
		if !d.met && d.Table.Columns[i].Required && !d.layout.has[i] {
			return true
		}
	}
	return false
}

// catalogueLost says whether anything that the catalogue consists of, or is
// judged by, could not be read.
func (c *Collection) catalogueLost() bool {
	if c.isLost(&Releases.Table) {
		return true
	}
	for _, t := range Tables() {
		if t.Service == Parts && c.isLost(t) {
			return true
		}
	}
	return false
}

// withoutLost leaves out what is said of lines that could not be read.
func (c *Collection) withoutLost(d *Draft, fields []fault.Field) []fault.Field {
	var out []fault.Field
	for _, f := range fields {
		if !c.ofLost(d, f.Name) {
			out = append(out, f)
		}
	}
	return out
}

func (c *Collection) ofLost(d *Draft, path string) bool {
	for _, t := range Tables() {
		if t.parent == d.Table.Name && c.isLost(t) && (path == t.field || strings.HasPrefix(path, t.field+"[")) {
			return true
		}
	}
	return false
}

// anyCondition says whether what a row holds for is in doubt.
func anyCondition(found []fault.Field) bool {
	for _, f := range found {
		if strings.Contains(f.Name, "].conditions") {
			return true
		}
	}
	return false
}

// NotLooked says in sentences what the faults kept from being checked.
func (c *Collection) NotLooked() []string { return c.notLooked }

// rowsOf takes "rows[parts/AP-2041].contents[0].part" apart.
var rowsOf = regexp.MustCompile(`^rows\[([^\]]*)\]\.?(.*)$`)

func catalogueFaults(m proto.Message) []fault.Field {
	if w, ok := m.(interface{ GetWithdrawn() bool }); ok && w.GetWithdrawn() {
		return nil // only its name is looked at
	}
	switch m := m.(type) {
	case *partsv1.Part:
		p, err := partswire.Part(m)
		return append(formFaults(err), p.Validate()...)
	case *partsv1.Supersession:
		s, err := partswire.Supersession(m)
		return append(formFaults(err), s.Validate()...)
	case *partsv1.Position:
		p, err := partswire.Position(m)
		return append(formFaults(err), p.Validate()...)
	case *partsv1.Application:
		a, err := partswire.Application(m)
		return append(formFaults(err), a.Validate()...)
	case *partsv1.Setting:
		s, err := partswire.Setting(m)
		return append(formFaults(err), s.Validate()...)
	case *partsv1.Capacity:
		c, err := partswire.Capacity(m)
		return append(formFaults(err), c.Validate()...)
	}
	return nil
}

// RefuseRow notes a fault that names its record as "rows[<name>].<path>", as
// services do. A record that is not in the import was there before: its fault
// has no place in a file.
func (c *Collection) RefuseRow(f fault.Field) {
	m := rowsOf.FindStringSubmatch(f.Name)
	if m == nil {
		c.Faults.Add(Fault{Column: f.Name, Got: f.Got, Want: f.Want})
		return
	}
	d := c.byName[m[1]]
	if d == nil {
		c.Faults.Add(Fault{File: "recorded before: " + m[1], Column: m[2], Got: f.Got, Want: f.Want})
		return
	}
	c.Refuse(d, m[2], f.Got, f.Want)
}
