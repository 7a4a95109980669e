package handbook

import (
	"fmt"
	"regexp"
	"strings"

	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// Choice is why a section that depends on the vehicle is in its handbook or is
// not.
type Choice struct {
	Section  string
	Title    string
	Included bool
	Reason   vehicle.Reason
}

// choice says why. Record is the vehicle's configuration.
func choice(s *Section, title string, included bool, serial vehicle.Serial) Choice {
	rule, verb := "SECTION_HOLDS", "is"
	if !included {
		rule, verb = "SECTION_DOES_NOT_HOLD", "is not"
	}
	words := conditionWords(s.AppliesWhen)
	return Choice{Section: s.ID, Title: title, Included: included, Reason: vehicle.Reason{
		Rule: rule, Record: "builds/" + string(serial),
		Facts:    []vehicle.Fact{{Name: "section", Value: title}, {Name: "vehicles", Value: words}, {Name: "expression", Value: s.AppliesWhen}},
		Sentence: fmt.Sprintf("“%s” is for vehicles %s, and this %s one.", title, words, verb),
	}}
}

// The forms in which nearly every expression of a book is written.
var conditions = []struct {
	form  *regexp.Regexp
	words func(match []string) string
}{
	{regexp.MustCompile(`^"([a-z0-9-]+)" in fitted\["([a-z0-9-]+)"\]$`), func(m []string) string {
		return fmt.Sprintf("with the trait %s at the %s", spokenTrait(m[1]), parts.Spoken(m[2]))
	}},
	{regexp.MustCompile(`^!\("([a-z0-9-]+)" in fitted\["([a-z0-9-]+)"\]\)$`), func(m []string) string {
		return fmt.Sprintf("without the trait %s at the %s", spokenTrait(m[1]), parts.Spoken(m[2]))
	}},
	{regexp.MustCompile(`^"([a-z0-9-]+)" in fitted$`), func(m []string) string { return "with a " + parts.Spoken(m[1]) }},
	{regexp.MustCompile(`^!\("([a-z0-9-]+)" in fitted\)$`), func(m []string) string { return "without a " + parts.Spoken(m[1]) }},
	{regexp.MustCompile(`^"([a-z0-9-]+)" in options$`), func(m []string) string { return "with the option " + parts.Spoken(m[1]) }},
	{regexp.MustCompile(`^!\("([a-z0-9-]+)" in options\)$`), func(m []string) string { return "without the option " + parts.Spoken(m[1]) }},
	{regexp.MustCompile(`^wheelbase == "([a-z]+)"$`), func(m []string) string { return "with the " + m[1] + " wheelbase" }},
	{regexp.MustCompile(`^market == "([A-Z]+)"$`), func(m []string) string { return "built for the market " + wording.Country(m[1]) }},
}

// spokenTrait keeps what people know by its letters: "synchro-3-4".
func spokenTrait(trait string) string { return "“" + strings.ReplaceAll(trait, "-", " ") + "”" }

// conditionWords says an expression in words, as a clause after "vehicles". One
// that it cannot say it gives as it is written, for the engineer.
func conditionWords(expression string) string {
	var said []string
	for _, one := range strings.Split(expression, "&&") {
		words := ""
		for _, c := range conditions {
			if m := c.form.FindStringSubmatch(strings.TrimSpace(one)); m != nil {
				words = c.words(m)
			}
		}
		if words == "" {
			return "for which it holds that " + expression
		}
		said = append(said, words)
	}
	return wording.List(withoutLooks(expression, said), "and")
}

// withoutLooks leaves out "with a winch" where the next clause says what the
// winch is like: the look is for the expression's sake.
func withoutLooks(expression string, said []string) []string {
	var kept []string
	for i, one := range strings.Split(expression, "&&") {
		one = strings.TrimSpace(one)
		if place, ok := strings.CutSuffix(one, " in fitted"); ok && !strings.HasPrefix(one, "!") && strings.Contains(expression, "fitted["+place+"]") {
			continue
		}
		kept = append(kept, said[i])
	}
	return kept
}
