package typeset

// RunKind says how a run of words is set.
type RunKind int

// The kinds of runs.
const (
	Plain     RunKind = iota
	Strong            // bold
	Emphasis          // italic
	Value             // a number with its unit, never parted: Text and Unit
	Reference         // to the anchor To: a link, and its page on paper
)

// Run is words that are set alike.
type Run struct {
	Kind RunKind
	Text string // of a Reference: what the link says; on paper its page follows
	Unit string // of a Value: "N·m", "mm"; "" for none
	To   string // of a Reference: an anchor
}

// Runs is running text.
type Runs []Run

// Words is plain running text.
func Words(text string) Runs { return Runs{{Text: text}} }

// Bold is strong running text.
func Bold(text string) Runs { return Runs{{Kind: Strong, Text: text}} }

// Measured is a number with its unit, never parted.
func Measured(number, unit string) Run { return Run{Kind: Value, Text: number, Unit: unit} }

// See refers to an anchor: "text, page 12" on paper, a link in HTML.
func See(text, anchor string) Run { return Run{Kind: Reference, Text: text, To: anchor} }
