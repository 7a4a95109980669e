package parts

import (
	"fmt"
	"regexp"
	"strings"
)

// The forms in which nearly every expression of a catalogue is written.
var (
	traitThere = regexp.MustCompile(`^"([a-z0-9-]+)" in fitted\["([a-z0-9-]+)"\]$`)
	placeThere = regexp.MustCompile(`^"([a-z0-9-]+)" in fitted$`)
	wheelbased = regexp.MustCompile(`^wheelbase == "([a-z]+)"$`)
)

// predicateWords says an expression in words: "with disc at the brakes front".
// One that it cannot say it gives as it is written, for the engineer.
func predicateWords(expression string) string {
	var said []string
	for _, one := range strings.Split(expression, "&&") {
		one = strings.TrimSpace(one)
		if m := traitThere.FindStringSubmatch(one); m != nil {
			said = append(said, fmt.Sprintf("with %s at the %s", spoken(m[1]), spoken(m[2])))
		} else if m := placeThere.FindStringSubmatch(one); m != nil {
			if !strings.Contains(expression, `in fitted["`+m[1]+`"]`) { // else what is there says it
				said = append(said, fmt.Sprintf("with something at the %s", spoken(m[1])))
			}
		} else if m := wheelbased.FindStringSubmatch(one); m != nil {
			said = append(said, fmt.Sprintf("with the %s wheelbase", m[1]))
		} else {
			return fmt.Sprintf("where its expression holds (%s)", expression)
		}
	}
	return strings.Join(said, " and ")
}
