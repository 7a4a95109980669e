package typeset

// Phrases are the words that the typesetter puts in itself.
type Phrases struct {
	Page      string // "page %s": behind a reference
	Continued string // behind the caption of a table that goes on: "continued"
	Changed   string // said by screen readers before what changed: "Changed in this issue"
	Tick      string // said by screen readers for a box to tick
	Blank     string // said by screen readers for a line to fill in
	Figure    string // "Figure %s": before a caption; "" numbers no figures
	Numbers   string // opens the table of a figure: "The numbers"
}

// English are the phrases of a document in English.
func English() Phrases {
	return Phrases{
		Page: "page %s", Continued: "continued", Changed: "Changed in this issue",
		Tick: "Box to tick", Blank: "To fill in", Figure: "Figure %s", Numbers: "The numbers",
	}
}
