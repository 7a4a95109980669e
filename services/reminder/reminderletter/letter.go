// Package reminderletter prints letters on paper: one PDF of many letters, each
// on sheets of its own, folded so that the address shows in the window of an
// envelope.
package reminderletter

import (
	"strconv"

	"halfshaft/services/fault"
	"halfshaft/services/reminder/reminderwords"
)

// Config is what all letters of a batch share.
type Config struct {
	Works  reminderwords.Works
	Paper  Paper
	Duplex bool // printed on both sides: each letter then begins on the front of a sheet
}

// Addressed is one letter with where it goes.
type Addressed struct {
	To        []string // the lines of the address, the name first
	Sheet     reminderwords.Sheet
	Reference string // printed small, so that a letter that comes back can be found; "" for none
}

// Print gives the batch as one PDF, in the order of the letters. The same batch
// gives the same bytes, and the document's properties name nobody. A letter
// that cannot be printed, because its address does not fit into the window, is
// refused as Invalid: see Check.
func Print(c Config, letters []Addressed) ([]byte, error) {
	p, err := newPrinter(c)
	if err != nil {
		return nil, err
	}
	for i, l := range letters {
		if err := p.print(l); err != nil {
			return nil, fault.Under("letters["+strconv.Itoa(i)+"]", err)
		}
	}
	return p.bytes()
}

// Check refuses a letter that Print would refuse, so that one of them does not
// hold up a batch.
func Check(c Config, l Addressed) error {
	p, err := newPrinter(c)
	if err != nil {
		return err
	}
	_, err = p.fitAddress(l.To)
	return err
}
