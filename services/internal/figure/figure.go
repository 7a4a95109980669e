package figure

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
