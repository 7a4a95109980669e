// Package handbook makes the owner's handbook of one vehicle: from a book, which
// is data like a service programme, and from what is on record of the vehicle.
//
// In the order in which a handbook comes about:
//
//	book.go        what a book is: chapters, sections, passages, each for some vehicles
//	markup.go      the marks in its texts: emphasis, values, references
//	check.go       what is wrong with a book, all of it at once
//	compile.go     a checked book, with its predicates made; which sides of them vehicles are on
//	choice.go      which sections hold for a vehicle, and why in words
//	values.go      what a text may ask for, through an interface of plain values
//	make.go        the handbook: sections filled in, or what keeps it from being made
//	record.go      the values of one vehicle, and the tables and pictures made of them
//	diff.go        what differs from an earlier handbook, section by section
//
// A value that a vehicle has none of is never left blank: it is a problem, and a
// handbook with problems is not issued.
package handbook
