package parts

import (
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/wording"
)

// askBack makes the question that tells several candidates apart; empty for
// fewer than two. It asks for the side or the end where that is all they
// differ in, since that is what a caller can look at.
func askBack(choices []Choice) string {
	if len(choices) < 2 {
		return ""
	}
	if question := askDirection(choices); question != "" {
		if sameOrder(choices) {
			return question + " The part is the same on each."
		}
		return question
	}
	const most = 5
	if samePosition(choices) && choices[0].SpecifiedPart != "" && len(choices) == 2 && choices[1].FittedPart != "" {
		return fmt.Sprintf("As the specification calls for, %s, or like what is on the vehicle, %s?", label(&choices[0]), label(&choices[1]))
	}
	var labels []string
	for i := range choices {
		labels = append(labels, label(&choices[i]))
	}
	if len(labels) > most {
		labels = append(labels[:most], fmt.Sprintf("one of %d more", len(choices)-most))
	}
	return "Which is meant: " + wording.List(labels, "or") + "?"
}

// label names a choice for a caller.
func label(c *Choice) string {
	return fmt.Sprintf("%s (%s) at the %s", c.Order.Title, c.Order.Number, spoken(c.Position))
}

// askDirection asks for sides and ends when these tell every candidate from
// every other; empty when they do not.
func askDirection(choices []Choice) string {
	type where struct{ side, end string }
	var seen []where
	rest := ""
	for i := range choices {
		c := &choices[i]
		a := understand(c.Position)
		if key := wordKey(a.words); i == 0 {
			rest = key
		} else if key != rest {
			return "" // they differ in more than the direction
		}
		at := where{c.Order.Hand.String(), ""}
		for _, d := range a.directions {
			if d == "left" || d == "right" {
				at.side = d
			} else {
				at.end = d
			}
		}
		if slices.Contains(seen, at) {
			return ""
		}
		seen = append(seen, at)
	}
	var questions []string
	var ends, sides []string
	for _, at := range seen {
		ends, sides = append(ends, at.end), append(sides, at.side)
	}
	if mixed := mixedDirections(ends, sides); mixed != "" {
		return mixed
	}
	if ends = sortedUnique(ends); len(ends) > 1 && ends[0] != "" {
		questions = append(questions, wording.List(ends, "or"))
	}
	if sides = sortedUnique(sides); len(sides) > 1 && sides[0] != "" {
		questions = append(questions, wording.List(sides, "or"))
	}
	if len(questions) == 0 {
		return ""
	}
	return wording.UpperFirst(strings.Join(questions, ", ")) + "?"
}

// mixedDirections asks among places of which all say an end and only some a
// side: "Front left, front right or rear?" Empty for others.
func mixedDirections(ends, sides []string) string {
	if slices.Contains(ends, "") || !slices.Contains(sides, "") || len(sortedUnique(slices.Clone(sides))) == 1 {
		return ""
	}
	var all []string
	for i := range ends {
		all = append(all, strings.TrimSpace(ends[i]+" "+sides[i]))
	}
	return wording.UpperFirst(wording.List(all, "or")) + "?"
}

func sameOrder(choices []Choice) bool {
	return !slices.ContainsFunc(choices, func(c Choice) bool { return c.Order != choices[0].Order })
}

func samePosition(choices []Choice) bool {
	return !slices.ContainsFunc(choices, func(c Choice) bool { return c.Position != choices[0].Position })
}
