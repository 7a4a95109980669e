package exchange

import "slices"

// What could not be read has consequences all over an import: what refers to it
// leads nowhere, what it was to decide has gaps. One fault would drown in them,
// so they are not looked for where something of their cause is missing.

// Unread notes a fault that kept a file, a sheet or the rest of one from being
// read.
func (c *Collection) Unread(f Fault) {
	c.Faults.Add(f)
	for i := len(c.sources) - 1; i >= 0; i-- {
		if s := c.sources[i]; s.file == f.File && s.sheet == f.Sheet && s.table != nil {
			c.lost[s.table] = true
			return
		}
	}
	c.lostAny = true
}

// isLost says whether records or lines of a table may be missing, of a fault
// that has been reported.
func (c *Collection) isLost(t *Table) bool { return c.lostAny || c.lost[t] }

// refsLost says whether what is referred to may be missing.
func (c *Collection) refsLost(ref Ref) bool {
	return slices.ContainsFunc(refTables(ref), c.isLost)
}

// refTables are those whose records a reference may lead to.
func refTables(ref Ref) []*Table {
	switch ref {
	case RefVehicle:
		return []*Table{TableNamed("builds")}
	case RefRelease:
		return []*Table{&Releases.Table}
	case RefPosition:
		return []*Table{&Releases.Table, TableNamed("positions")}
	case RefPart:
		return []*Table{TableNamed("parts")}
	case RefProgramme, RefItem:
		return []*Table{&Programmes.Table}
	case RefPerson:
		return []*Table{TableNamed("people"), TableNamed("erasures")}
	}
	return nil
}

// outerLost says whether the lines that a table's lines belong to may be
// missing.
func (c *Collection) outerLost(t *Table) bool {
	outer, _, _ := cutField(t.field)
	for _, lines := range Tables() {
		if lines.parent == t.parent && lines.field == outer {
			return c.isLost(lines)
		}
	}
	return false
}
