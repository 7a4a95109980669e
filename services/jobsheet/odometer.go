package jobsheet

import "halfshaft/services/vehicle"

// million is the unit of odometer factors.
const million = 1_000_000

// Expect gives what a dial shows after a true distance: the distance by the
// odometer's factor, on the wheels that it has. It is 0 where that cannot be
// said: without a reading to go on from, or without a factor.
func Expect(last vehicle.Entered, gone vehicle.Distance, factorPPM int64, dial vehicle.Dial) vehicle.Distance {
	from, err := last.Distance()
	if err != nil || last.IsZero() || gone < 0 || factorPPM <= 0 {
		return 0
	}
	// In two parts, so that a long distance does not run over.
	counted := gone/vehicle.Distance(factorPPM)*million + gone%vehicle.Distance(factorPPM)*million/vehicle.Distance(factorPPM)
	shown := from + counted
	if modulus := dial.Modulus(); modulus > 0 {
		shown %= modulus
	}
	return shown
}
