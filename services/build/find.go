package build

import (
	"errors"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Term is a number under which a vehicle can be found.
type Term struct {
	Kind   TermKind
	Text   string // as written
	Former bool   // of the past: a plate or component no longer on it
}

// TermKind says what sort of number a term is, in the API's own words.
type TermKind string

// The kinds, in the order in which a match is named.
const (
	TermSerial    TermKind = "serial"
	TermFrame     TermKind = "frame number"
	TermComponent TermKind = "component serial"
	TermLot       TermKind = "lot"
	TermPlate     TermKind = "plate"
)

// MinFragment is the fewest letters and digits that are looked for.
const MinFragment = 3

// Terms gives the numbers under which a vehicle is found beside its serial:
// those that hold now before those of the past.
func Terms(rec *Record, changes []Change, releases ReleaseSet) ([]Term, error) {
	t, err := TimelineOf(*rec, changes, releases)
	if err != nil {
		return nil, err
	}
	l := termList{seen: map[Term]bool{}}
	l.add(TermFrame, rec.FrameNumber, false)
	for _, former := range []bool{false, true} {
		for i := range t.Stays {
			if s := &t.Stays[i]; s.Until.IsZero() != former {
				unit := s.Current()
				l.add(TermComponent, unit.Serial, former)
			}
		}
		for i := range t.Stays {
			if s := &t.Stays[i]; s.Until.IsZero() != former {
				unit := s.Current()
				l.add(TermLot, unit.Lot, former)
			}
		}
		l.plates(rec, changes, former)
	}
	return l.terms, nil
}

type termList struct {
	terms []Term
	seen  map[Term]bool
}

// add keeps a term once, and not again as former when it holds now.
func (l *termList) add(kind TermKind, text string, former bool) {
	term := Term{Kind: kind, Text: text}
	if text == "" || l.seen[term] {
		return
	}
	l.seen[term] = true
	l.terms = append(l.terms, Term{kind, text, former})
}

func (l *termList) plates(rec *Record, changes []Change, former bool) {
	plates := []string{rec.Plate}
	for _, c := range InOrder(changes) {
		if c.Kind == PlateChanged {
			plates = append(plates, c.Plate)
		}
	}
	last := len(plates) - 1
	if !former {
		l.add(TermPlate, plates[last], false)
		return
	}
	for i := last - 1; i >= 0; i-- {
		l.add(TermPlate, plates[i], true)
	}
}

// Match finds the first term that has the fragment, a folded text.
func Match(terms []Term, fragment string) (Term, bool) {
	for _, t := range terms {
		if strings.Contains(Fold(t.Text), fragment) {
			return t, true
		}
	}
	return Term{}, false
}

// Refusal says why what was heard is no serial: every character apart, so that
// the caller can be asked to say it again, and which check character would
// belong to the rest. It never names another vehicle.
func Refusal(heard string) (sentence string, refused bool) {
	_, err := vehicle.ParseSerial(heard)
	if err == nil {
		return "", false
	}
	heard = vehicle.Unspelled(heard)
	text := spaced(heard)
	folded := Fold(heard)
	if len(folded) < MinFragment+1 {
		return "", false
	}
	if check, err := vehicle.CheckCharacter(folded[:len(folded)-1]); err == nil && vehicle.Issuable(folded[:len(folded)-1]) {
		return "Heard " + text + ", but the check character of " + spaced(folded[:len(folded)-1]) + " is " +
			string(rune(check)) + ". Ask for the serial again.", true
	}
	return "Heard " + text + "; no serial reads like that. Ask for the serial again.", true
}

// spaced sets the characters of a serial apart.
func spaced(heard string) string {
	var chars []string
	for _, r := range strings.ToUpper(heard) {
		if r != ' ' && r != '-' && r != '.' && r != '/' {
			chars = append(chars, string(r))
		}
	}
	return strings.Join(chars, " ")
}

// WrongCheck says whether vehicle.ParseSerial refused a serial for its check
// character alone.
func WrongCheck(err error) bool {
	var f *fault.Error
	return errors.As(err, &f) && f.Reason == "SERIAL_CHECK"
}
