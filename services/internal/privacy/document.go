package privacy

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"

	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"

	"halfshaft/services/wording"
)

//go:embed head.md
var head string

// categories says each category as the inventory prints it.
var categories = map[privacyv1.Category]string{
	privacyv1.Category_CATEGORY_IDENTITY:    "who somebody is",
	privacyv1.Category_CATEGORY_CONTACT:     "how somebody is reached",
	privacyv1.Category_CATEGORY_WHEREABOUTS: "where somebody lives or is away",
	privacyv1.Category_CATEGORY_STATEMENT:   "what somebody said or sent",
	privacyv1.Category_CATEGORY_RELATION:    "that somebody has or had a vehicle",
	privacyv1.Category_CATEGORY_STAFF:       "what somebody did at work",
	privacyv1.Category_CATEGORY_SECRET:      "a secret, or its digest",
	privacyv1.Category_CATEGORY_NETWORK:     "from which network somebody came",
}

// ruleName is a rule as the table prints it: "with person".
func ruleName(k privacyv1.Keep) string {
	return strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(k.String(), "KEEP_"), "_", " "))
}

// Document prints an inventory for people, as deploy/PERSONAL-DATA.md.
func Document(entries []Entry) string {
	var b strings.Builder
	b.WriteString(head)
	b.WriteString("| rule | in a sentence |\n|---|---|\n")
	rules := KeepRules()
	order := make([]privacyv1.Keep, 0, len(rules))
	for k := range rules {
		order = append(order, k)
	}
	slices.Sort(order)
	for _, k := range order {
		fmt.Fprintf(&b, "| %s | %s |\n", ruleName(k), rules[k])
	}
	fmt.Fprintf(&b, "\n## What: %d fields\n", len(entries))
	var last privacyv1.Category
	for _, e := range entries {
		if c := e.Personal.GetCategory(); c != last {
			last = c
			said := categories[c]
			fmt.Fprintf(&b, "\n### %s\n\n| field | why | how long | a dealer sees it |\n|---|---|---|---|\n", wording.UpperFirst(said))
		}
		dealer := "no"
		if e.Personal.GetDealer() {
			dealer = "yes"
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s |\n", e.Path(), e.Personal.GetWhy(), ruleName(e.Personal.GetKeep()), dealer)
	}
	return b.String()
}
