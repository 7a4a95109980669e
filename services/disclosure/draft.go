package disclosure

import (
	"fmt"
	"strings"

	"halfshaft/services/vehicle"
)

// Draft is a text for counsel to look at, with what it rests on.
type Draft struct {
	Title   string
	Lines   []string // the text itself, a paragraph each
	Law     []string // which law it follows, and that it is an example
	Caution string
}

// Statement is the draft of the disclosure that a transfer asks for.
type Statement struct {
	Draft
	On         vehicle.Date
	Exemptions []Exemption
	Needed     string // whether a statement is needed at all, in a sentence
	Kind       Kind
	Reasons    []vehicle.Reason
}

// blank is where a person writes.
const blank = "____________"

// example says what a draft is and is not.
const example = "This is an example by the law of the United States, and no advice. Counsel and the law of the place go first: " +
	"a State may ask for more, or for its own form, and another country has other law."

// lawOfStatements names what a statement follows.
var lawOfStatements = []string{
	"49 CFR 580.5 and appendix C: what the statement says and who signs it. 49 CFR 580.17(a)(3)-(4): the exemption by model year; its other exemptions are not looked at here. 49 U.S.C. 32705 stands behind both.",
	example,
}

// StatementFor drafts the disclosure statement for a transfer on a day. modelYear
// is the one on the title; 0 shows both that a rebuilt vehicle may be said to have.
func (v *Vehicle) StatementFor(on vehicle.Date, modelYear int) (Statement, error) {
	exemptions, err := v.Exemptions(modelYear, on)
	if err != nil {
		return Statement{}, err
	}
	s := Statement{On: on, Exemptions: exemptions, Needed: needed(exemptions)}
	s.Kind, s.Reasons = v.Verdict(on)
	s.Title = "ODOMETER DISCLOSURE STATEMENT (draft)"
	s.Lines = append(v.opening(on), v.certificate(s.Kind, on)...)
	s.Lines = append(s.Lines, v.closing(modelYear)...)
	s.Law = lawOfStatements
	s.Caution = "Read the odometer on the day of the transfer and write that reading, not the last on record. Nobody signs what they know to be wrong: a false statement may be punished."
	return s, nil
}

// needed says in a sentence whether the transfer asks for a statement.
func needed(all []Exemption) string {
	exempt, agree := Agree(all)
	switch {
	case !agree:
		return "Whether a statement is needed turns on which model year the vehicle has: that is for counsel. Until then make one."
	case exempt:
		return "By its model year the transfer is exempt, and no statement is needed; a State may still ask for one."
	}
	return "The transfer is not exempt by model year: a statement is needed."
}

// opening says who states what.
func (v *Vehicle) opening(on vehicle.Date) []string {
	unit := unitWord(v.dialOn(on).Unit)
	last := "No reading is on record."
	if !v.Last.On.IsZero() && !v.Last.On.After(on) {
		last = fmt.Sprintf("[On record, for whoever fills this in: it showed %s on %s.]", v.Last.Shown, v.Last.On.Long())
	}
	return []string{
		"Federal law (and State law, where it applies) asks for the mileage to be stated when a vehicle changes owner. Who does not state it, or states it wrongly, may be fined or imprisoned.",
		fmt.Sprintf("I, %s (transferor, printed), state that the odometer of the vehicle below now reads %s %s (no tenths).", blank, blank, unit),
		last,
	}
}

// certificate is what is stated of the reading.
func (v *Vehicle) certificate(kind Kind, on vehicle.Date) []string {
	switch kind {
	case Actual:
		text := "To the best of my knowledge it reflects the actual mileage of the vehicle"
		if len(v.beforeTheRebuild()) > 0 {
			text += fmt.Sprintf(" since it was rebuilt in %d; how far its donor of %d had gone is not on record", v.BuildDate.Year, v.DonorYear)
		}
		return []string{text + "."}
	case Beyond:
		return []string{"I certify that, to the best of my knowledge, the odometer reading reflects a mileage in excess of its mechanical limits."}
	case NotActual:
		lines := []string{"I certify that the odometer reading is NOT the actual mileage and should not be relied upon. WARNING - ODOMETER DISCREPANCY."}
		if !v.Last.On.IsZero() && !v.Last.On.After(on) {
			lines = append(lines, fmt.Sprintf("[For information: by the works' distance ledger the vehicle went about %s from its delivery to %s.]",
				v.Last.True.Text(v.dialOn(on).Unit), v.Last.On.Long()))
		}
		return lines
	}
	return []string{"[Which statement is true cannot be told from the record. Look into the reasons first; then draft this again.]"}
}

// closing identifies the vehicle, and has the places to sign.
func (v *Vehicle) closing(modelYear int) []string {
	year := blank
	if modelYear != 0 {
		year = fmt.Sprint(modelYear)
	}
	return []string{
		fmt.Sprintf("Vehicle: serial of the works %s, frame number %s; make %s, model %s, year %s, body %s, identification number on the title %s.",
			v.Serial, orBlank(v.FrameNumber), blank, blank, year, blank, blank),
		fmt.Sprintf("Transferor: signature %s, printed name %s, address %s.", blank, blank, blank),
		fmt.Sprintf("Transferee: signature %s, printed name %s, address %s.", blank, blank, blank),
		fmt.Sprintf("Date of the transfer %s, of this statement %s.", blank, blank),
	}
}

func orBlank(text string) string {
	if strings.TrimSpace(text) == "" {
		return blank
	}
	return text
}

// unitWord is the unit in a sentence.
func unitWord(u vehicle.Unit) string {
	if u == vehicle.Kilometres {
		return "kilometres"
	}
	return "miles"
}
