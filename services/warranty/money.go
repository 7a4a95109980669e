package warranty

import "strings"

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

// labourCost is minutes at an hourly rate, rounded half up to the hundredth.
func labourCost(minutes int, rate int64) int64 { return (int64(minutes)*rate + 30) / 60 }
