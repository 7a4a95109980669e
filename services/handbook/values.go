package handbook

// Values are what is on record of one vehicle, for the texts and tables of a
// book. Each answers false, or says why in missing, where there is nothing.
type Values interface {
	// Value is what a text asks for.
	Value(Ask) (Words, bool)
	// Table is a table; with a reason in missing where it cannot be made.
	Table(asked ValuesAsked) (table *Table, missing string)
	// Picture is what a picture shows, likewise.
	Picture(asked PictureAsked) (picture *Picture, missing string)
}
