package figure

import "slices"

// Figure is a picture together with what it says to those who do not see it.
type Figure struct {
	Title       string
	Description []string // sentences, the most important first
	Drawing     Drawing
	Table       Table
}

// Table holds the data of a figure for a screen reader and for paper.
type Table struct {
	Caption string
	Heads   []string
	Rows    [][]string // each with as many cells as there are heads
}

// tidied leaves out the columns in which no row says anything.
func (t Table) tidied() Table {
	for i := len(t.Heads) - 1; i >= 0; i-- {
		says := func(row []string) bool { return row[i] != "" }
		if len(t.Rows) == 0 || slices.ContainsFunc(t.Rows, says) {
			continue
		}
		t.Heads = slices.Delete(t.Heads, i, i+1)
		for n := range t.Rows {
			t.Rows[n] = slices.Delete(t.Rows[n], i, i+1)
		}
	}
	return t
}
