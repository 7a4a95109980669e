package console

import (
	"strconv"
	"strings"

	"halfshaft/services/fault"
)

// mostMoney is the most that one amount may be: 100 million of the currency, as
// the warranty service has it.
const mostMoney = 10_000_000_000

// parseMoney reads an amount as typed or as money prints it: "1234.50", "1,234.50"
// or "1234". Commas stand before each three digits or not at all; a point has two
// digits after it, for 12.5 is a slip as often as it is 12.50. Signs are refused.
func parseMoney(field, text string) (int64, error) {
	whole, cents, point := strings.Cut(strings.TrimSpace(text), ".")
	if !point {
		cents = "00"
	}
	digits, ok := ungrouped(whole)
	n, err := strconv.ParseInt(digits+cents, 10, 64)
	if !ok || len(cents) != 2 || !decimal(digits) || !decimal(cents) || err != nil || n > mostMoney {
		return 0, fault.InvalidField(field, text, "digits, and a point with two digits behind it or none, as in 1234.50, at most 100,000,000.00")
	}
	return n, nil
}

// ungrouped takes the commas out of a whole number, where they stand right.
func ungrouped(whole string) (string, bool) {
	groups := strings.Split(whole, ",")
	if len(groups) == 1 {
		return whole, true
	}
	for i, g := range groups {
		if i == 0 && (g == "" || len(g) > 3) || i > 0 && len(g) != 3 {
			return "", false
		}
	}
	return strings.Join(groups, ""), true
}

func decimal(s string) bool { return s != "" && strings.Trim(s, "0123456789") == "" }
