package forecast

import (
	"strconv"
	"time"

	"halfshaft/services/vehicle"
)

// Assumed says whether the pace is the prior's rather than the vehicle's own.
func (u *Usage) Assumed() bool { return u.assumed }

// Readings is how many points the forecast rests on.
func (u *Usage) Readings() int { return int(u.readings) }

// Evidence says in words what the forecast rests on, in the unit of the dial.
func (u *Usage) Evidence(unit vehicle.Unit) vehicle.Reason {
	year := u.PerYear().Text(unit)
	r := vehicle.Reason{Rule: "PACE_FROM_READINGS", Facts: []vehicle.Fact{{Name: "readings", Value: strconv.Itoa(int(u.readings))}}}
	if u.readings > 0 {
		r.Facts = append(r.Facts, vehicle.Fact{Name: "from", Value: date(u.first).String()}, vehicle.Fact{Name: "to", Value: date(u.last).String()})
	}
	r.Facts = append(r.Facts, vehicle.Fact{Name: "per_year", Value: year})
	switch {
	case u.readings == 0:
		r.Rule, r.Sentence = "PACE_ASSUMED", "There is no reading, so about "+year+" a year are assumed, as for "+u.prior.Name
	case u.readings == 1:
		r.Rule, r.Sentence = "PACE_ASSUMED", "There is one reading only, so about "+year+" a year are assumed, as for "+u.prior.Name
	case u.assumed:
		r.Rule = "PACE_ASSUMED"
		r.Sentence = strconv.Itoa(int(u.readings)) + " readings from " + u.span() + " say little yet, so about " + year +
			" a year are assumed, going by them and by " + u.prior.Name
	default:
		r.Sentence = strconv.Itoa(int(u.readings)) + " readings from " + u.span() + " give about " + year + " a year"
	}
	if u.from > 0 {
		months := time.Month(u.from).String() + " to " + time.Month(u.to).String()
		if u.from == u.to {
			months = time.Month(u.from).String() + " only"
		}
		r.Facts = append(r.Facts, vehicle.Fact{Name: "season", Value: months}, vehicle.Fact{Name: "season_from", Value: u.season.String()})
		r.Sentence += SeasonWords(months, u.season.String())
	}
	if u.from == 0 && u.season != Uniform {
		r.Facts = append(r.Facts, vehicle.Fact{Name: "season_from", Value: u.season.String()})
		r.Sentence += SeasonWords("", u.season.String())
	}
	if u.changed {
		r.Facts = append(r.Facts, vehicle.Fact{Name: "habit", Value: "changed"})
		r.Sentence += "; its use has changed, so that older readings count little"
	}
	r.Sentence += "."
	return r
}

// SeasonWords is what Evidence says of a season with these facts: "season" and
// "season_from". Empty where there is none.
func SeasonWords(months, source string) string {
	for s := Fleet; s <= Learned; s++ {
		switch {
		case s.String() != source:
		case months == "":
			return ", more in some months than in others, " + s.words()
		default:
			return ", used " + months + " " + s.words()
		}
	}
	return ""
}

func (u *Usage) span() string { return date(u.first).Long() + " to " + date(u.last).Long() }

func date(day int32) vehicle.Date { return vehicle.DateFromOrdinal(int(day)) }

// String is the source in one word.
func (s SeasonSource) String() string {
	return [...]string{"uniform", "fleet", "declared", "learned"}[min(s, Learned)]
}

// words says where a season comes from.
func (s SeasonSource) words() string {
	switch s {
	case Learned:
		return "as its readings show"
	case Declared:
		return "as its owner says"
	case Fleet:
		return "as the fleet is"
	}
	return ""
}
