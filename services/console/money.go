package console

import (
	"fmt"
	"math"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// money prints an amount in hundredths of a currency: "1,234.50 GBP".
func money(minor int64, currency string) string {
	sign := ""
	if minor < 0 {
		sign = "-"
	}
	size := uint64(minor)
	if minor < 0 {
		size = -size
	}
	whole := fmt.Sprint(size / 100)
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	return strings.TrimSpace(fmt.Sprintf("%s%s.%02d %s", sign, whole, size%100, currency))
}

// parseMoney reads an amount as typed: "120" or "120.50".
func parseMoney(field, text string) (int64, error) {
	d, err := vehicle.ParseDecimal(text)
	wrong := fault.InvalidField(field, text, "an amount with at most two digits after the point, as in 120.50")
	if err != nil || d.Scale > 2 || d.Sign() < 0 {
		return 0, wrong
	}
	n := d.Coefficient
	for range 2 - d.Scale {
		if n > math.MaxInt64/10 {
			return 0, wrong
		}
		n *= 10
	}
	return n, nil
}
