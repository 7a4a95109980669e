package console

import (
	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
)

// tyreAge is the answer about the age code of a tyre, for scripts.
type tyreAge struct {
	Code        string       `json:"code"`
	Week        int          `json:"week"`
	Year        int          `json:"year,omitempty"`  // none for a code of three figures
	Years       []int        `json:"years,omitempty"` // that a code of three figures can mean
	On          vehicle.Date `json:"on"`
	MadeFrom    vehicle.Date `json:"madeFrom"`
	AgeYears    int          `json:"ageYears"`
	AgeMonths   int          `json:"ageMonths"` // beyond the years
	AtLeast     bool         `json:"atLeast,omitempty"`
	Advice      string       `json:"advice"`
	InspectFrom vehicle.Date `json:"inspectFrom"`
	RenewFrom   vehicle.Date `json:"renewFrom"`
	Reasons     []string     `json:"reasons"`
	Caution     string       `json:"caution"`
}

// TyreAge prints how old a tyre with an age code is on a day, and what its age
// asks for. It asks no service: the code stands on the tyre.
func (c *Console) TyreAge(code string, on vehicle.Date) error {
	read, err := drivetrain.ParseTyreCode(code, on)
	if err != nil {
		return err
	}
	a := read.Age(on)
	if c.JSON {
		return c.printJSON(tyreAgeAnswer(a))
	}
	s := &sheet{}
	for _, r := range a.Reasons {
		s.text("", r.Sentence)
	}
	s.text("CAUTION ", a.Caution)
	_, err = c.Out.Write([]byte(s.String()))
	return err
}

func tyreAgeAnswer(a drivetrain.TyreAge) tyreAge {
	answer := tyreAge{
		Code: a.Code.Text, Week: a.Code.Week, Year: a.Code.Year, Years: a.Code.Years, On: a.On, MadeFrom: a.Made,
		AgeYears: a.Years, AgeMonths: a.Months, AtLeast: a.AtLeast, Advice: string(a.Advice),
		InspectFrom: a.InspectFrom, RenewFrom: a.RenewFrom, Caution: a.Caution,
	}
	for _, r := range a.Reasons {
		answer.Reasons = append(answer.Reasons, r.Sentence)
	}
	return answer
}
