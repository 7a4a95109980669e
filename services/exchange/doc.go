// Package exchange knows the works' files: which tables there are, which
// columns each has, how a cell is written, and what must hold between rows
// before anything is imported. It reads no file and calls no service; see
// exchangefile for the one and exchangerun for the other.
//
// A Table describes rows of one kind by the proto message that a row becomes
// and, for each Column, the path of the field that a cell fills. Reading and
// writing use the same description, so that what was exported can be imported;
// a test walks the messages and fails when a field has no column.
//
// Rows of some tables are lines of a record in another: a component belongs to
// its build, an item done to its service entry. Records that are too deep for
// a table (releases, programmes, amendments, warranty terms, claims, bulletins,
// vehicles on the lists of campaigns) are YAML documents; see Document.
//
// An import is collected whole before anything is checked, so every Collection
// keeps its rows as encoded messages: about 200 bytes for an odometer reading.
package exchange
