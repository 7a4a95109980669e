package vehicle

import (
	"math"
	"strings"
)

// ParseMinutes reads how long work took as people type it, "300 minutes" or "2.5
// hours"; ok is false for what is no whole number of minutes.
func ParseMinutes(text string) (n int, ok bool) {
	number, unit, _ := strings.Cut(text, " ")
	d, err := ParseDecimal(number)
	if err != nil || d.Coefficient > math.MaxInt32 || d.Coefficient < 0 {
		return 0, false
	}
	of, parts := d.Coefficient, int64(1)
	switch unit {
	case "minute", "minutes":
	case "hour", "hours":
		of *= 60
	default:
		return 0, false
	}
	for range d.Scale {
		parts *= 10
	}
	return int(of / parts), of%parts == 0 && of/parts <= math.MaxInt32
}
