package desk

import (
	"strconv"

	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// unitText is our way of writing a unit: "N·m".
func unitText(unit string) string {
	name, _ := vehicle.UnitName(unit)
	return name
}

func plainCount(n int32) string { return strconv.Itoa(int(n)) }

// readQuantity reads a value in a unit, unless another is said; nil where nothing
// was typed.
func readQuantity(text, unit string) (*vehiclev1.Quantity, error) {
	if text == "" {
		return nil, nil
	}
	q, err := vehicle.ParseQuantity(text)
	if err != nil {
		q, err = vehicle.ParseQuantity(text + " " + unit)
	}
	if err != nil {
		return nil, err
	}
	return vehiclewire.QuantityProto(q), nil
}
