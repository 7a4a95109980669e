package warranty

import (
	"strconv"
	"strings"

	"halfshaft/services/fault"
)

// All amounts are whole hundredths of a currency, and never fractions of binary
// numbers. A currency that has no hundredths is counted in them all the same,
// and its amounts end in 00; one with thousandths cannot be told exactly, and is
// refused by nobody but the works' bookkeeping.

// maxAmount is the most that one price or cost may be: 100 million of the
// currency, so that no sum of a claim overflows.
const maxAmount = 10_000_000_000

// IsCurrency says whether text has the form of a code of ISO 4217: three
// capital letters. Whether the code is assigned is not looked at.
func IsCurrency(code string) bool {
	return len(code) == 3 && strings.Trim(code, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") == ""
}

// ParseAmount reads an amount as it is written, "1234.50", "1,234.50" or
// "1234", and gives it in hundredths. Commas stand before each three digits or
// not at all; a point has two digits after it, for 12.5 is a slip as often as it
// is 12.50. Signs are refused. The error is a *fault.Error of kind Invalid with
// the reason AMOUNT.
func ParseAmount(text string) (int64, error) {
	whole, cents, point := strings.Cut(strings.TrimSpace(text), ".")
	if !point {
		cents = "00"
	}
	digits, ok := ungrouped(whole)
	n, err := strconv.ParseInt(digits+cents, 10, 64)
	if !ok || len(cents) != 2 || !decimal(digits) || !decimal(cents) || err != nil || n > maxAmount {
		return 0, &fault.Error{
			Kind: fault.Invalid, Reason: "AMOUNT", Message: "not an amount",
			Fields: []fault.Field{{Name: "amount", Got: text, Want: "digits, and a point with two digits behind it or none, as in 1234.50, at most 100,000,000.00"}},
		}
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

// Amount writes an amount with its currency, the number as ParseAmount reads it:
// "1,234.50 GBP".
func Amount(minor int64, currency string) string {
	sign, size := "", uint64(minor)
	if minor < 0 {
		sign, size = "-", -uint64(minor)
	}
	whole := strconv.FormatUint(size/100, 10)
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	cents := strconv.FormatUint(size%100+100, 10)[1:]
	return strings.TrimSpace(sign + whole + "." + cents + " " + currency)
}

// labourCost is minutes at an hourly rate, rounded half up to the hundredth.
func labourCost(minutes int, rate int64) int64 { return (int64(minutes)*rate + 30) / 60 }
