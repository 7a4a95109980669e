package console

import (
	"halfshaft/services/fault"
	"halfshaft/services/warranty"
)

// money prints an amount in hundredths of a currency: "1,234.50 GBP".
func money(minor int64, currency string) string { return warranty.Amount(minor, currency) }

// parseMoney reads an amount as typed or as money prints it: "120", "120.50" or
// "1,234.50".
func parseMoney(field, text string) (int64, error) {
	minor, err := warranty.ParseAmount(text)
	if err != nil {
		f := fault.FieldsOf("", err)[0]
		return 0, fault.InvalidField(field, f.Got, f.Want)
	}
	return minor, nil
}
