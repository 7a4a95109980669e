package parts

import (
	"fmt"
	"strings"

	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// words says for which vehicles a row holds, as a part of a sentence: "release
// R3 or R4, without lsd-rear, serials AM0120X to AM0135X"; empty for every
// vehicle.
func (c *Conditions) words() string {
	var all []string
	add := func(format string, args ...any) { all = append(all, fmt.Sprintf(format, args...)) }
	if len(c.Releases) > 0 {
		add("release %s", wording.List(c.Releases, "or"))
	}
	if len(c.Options) > 0 {
		add("with %s", wording.List(c.Options, "and"))
	}
	if len(c.Without) > 0 {
		add("without %s", wording.List(c.Without, "and"))
	}
	if text := c.serialWords(); text != "" {
		add("%s", text)
	}
	switch {
	case !c.BuiltFrom.IsZero() && !c.BuiltUntil.IsZero():
		add("built from %s to %s", c.BuiltFrom.Long(), c.BuiltUntil.Long())
	case !c.BuiltFrom.IsZero():
		add("built from %s on", c.BuiltFrom.Long())
	case !c.BuiltUntil.IsZero():
		add("built until %s", c.BuiltUntil.Long())
	}
	if len(c.Markets) > 0 {
		add("for the market %s", wording.List(wording.Countries(c.Markets), "or"))
	}
	if len(c.Together) > 0 {
		add("only together with %s", wording.List(c.Together, "and"))
	}
	if c.AppliesWhen != "" {
		add("%s", predicateWords(c.AppliesWhen))
	}
	if len(c.Lots) > 0 {
		add("lot %s", wording.List(c.Lots, "or"))
	}
	if c.Otherwise {
		add("where no other row holds")
	}
	return strings.Join(all, ", ")
}

func (c *Conditions) serialWords() string {
	text := ""
	switch {
	case c.FirstSerial != "" && c.LastSerial != "":
		text = fmt.Sprintf("serials %s to %s", c.FirstSerial, c.LastSerial)
	case c.FirstSerial != "":
		text = fmt.Sprintf("serials from %s on", c.FirstSerial)
	case c.LastSerial != "":
		text = fmt.Sprintf("serials up to %s", c.LastSerial)
	}
	if len(c.Except) == 0 {
		return text
	}
	var except []string
	for _, s := range c.Except {
		except = append(except, string(s))
	}
	return strings.TrimSpace(text + " except " + wording.List(except, "and"))
}

// unmetWords says why a row does not hold, as the end of a sentence after the
// row: "is for release R4 or R5, and this position follows R3".
func (c *Conditions) unmetWords(why condition, s *subject) string {
	switch why {
	case byRelease:
		return fmt.Sprintf("is for release %s, and this position follows %s", wording.List(c.Releases, "or"), s.release)
	case byOption:
		return fmt.Sprintf("asks for the option %s", wording.List(c.Options, "and"))
	case byMissingOption:
		return fmt.Sprintf("is for vehicles without the option %s", wording.List(c.Without, "or"))
	case bySerial:
		return "is for " + c.serialWords()
	case byBuilt:
		return fmt.Sprintf("is for vehicles %s; this one was built on %s", builtWords(c), s.built.Long())
	case byMarket:
		return fmt.Sprintf("is for the market %s, and this vehicle was built for %s", wording.List(wording.Countries(c.Markets), "or"), wording.Country(s.market))
	case byTogether:
		return fmt.Sprintf("holds only together with %s, which is not on this vehicle", wording.List(c.absent(s), "and"))
	case byPredicate:
		return "is for vehicles " + predicateWords(c.AppliesWhen)
	case byLot:
		return fmt.Sprintf("is for lot %s, and %s is on record here", wording.List(c.Lots, "or"), wording.List(s.lots, "and"))
	}
	return "holds where no other row does"
}

func builtWords(c *Conditions) string {
	only := Conditions{BuiltFrom: c.BuiltFrom, BuiltUntil: c.BuiltUntil}
	return only.words()
}

// absent gives the parts that must be on the vehicle and are not.
func (c *Conditions) absent(s *subject) []string {
	var out []string
	for _, p := range c.Together {
		if !s.anywhere(p) {
			out = append(out, p)
		}
	}
	return out
}

// questionFor asks for what a row needs to know.
func questionFor(why condition, position string, rows []row) string {
	switch why {
	case byLot:
		var lots []string
		for _, r := range rows {
			lots = append(lots, r.conditions().Lots...)
		}
		return fmt.Sprintf("Which lot is marked at the %s: %s, or another?", spoken(position), wording.List(sortedUnique(lots), "or"))
	case byMarket:
		return "For which market was the vehicle built?"
	case byBuilt:
		return "On which day was the vehicle built?"
	}
	return ""
}

// applicationReason says which row gave a part.
func applicationReason(a *Application) vehicle.Reason {
	what := "The catalogue has " + a.Part
	switch {
	case a.Part == "":
		what = "The catalogue has nothing"
	case a.Count() > 1:
		what = fmt.Sprintf("The catalogue has %d of %s", a.Count(), a.Part)
	}
	c := a.Conditions
	c.Otherwise = false
	sentence := fmt.Sprintf("%s for the %s of every vehicle", what, spoken(a.Position))
	if holds := c.words(); holds != "" {
		sentence = fmt.Sprintf("%s for the %s: %s", what, spoken(a.Position), holds)
	}
	if a.Conditions.Otherwise {
		sentence += " that no other row is for"
	}
	sentence += "."
	if a.Text != "" {
		sentence += " " + wording.Ended(a.Text)
	}
	return reason("APPLICATION", ApplicationName(a.ID), sentence, "part", a.Part, "position", a.Position)
}
