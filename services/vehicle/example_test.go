package vehicle_test

import (
	"fmt"
	"time"

	"halfshaft/services/vehicle"
)

// Support staff type what they hear. A wrong serial is refused, never guessed;
// what may have been meant is a list of its own, to ask the caller about.
func ExampleParseSerial() {
	serial, err := vehicle.ParseSerial("am-0147-p")
	fmt.Println(serial, err)
	fmt.Println(serial.Spoken())

	_, err = vehicle.ParseSerial("AMO147P")
	fmt.Println(err)
	fmt.Println(vehicle.Slips("AMO147P")[0])
	// Output:
	// AM0147P <nil>
	// Alfa Mike zero one four seven Papa
	// heard AMO147P, but P is not its check character: the one of AMO147 is B
	// AM0147P
}

// Recurring dates are counted from the original date, so that the end of a
// short month does not stay.
func ExampleDate_AddMonths() {
	fitted := vehicle.MustDate(2026, time.January, 31)
	for n := 1; n <= 3; n++ {
		fmt.Println(fitted.AddMonths(n))
	}
	// Output:
	// 2026-02-28
	// 2026-03-31
	// 2026-04-30
}

// What the instrument could show is kept: 0.10 is not 0.1.
func ExampleParseQuantity() {
	float, err := vehicle.ParseQuantity("0.10mm")
	fmt.Println(float, float.Value.Resolution(), err)
	_, err = vehicle.ParseQuantity("0.18")
	fmt.Println(err)
	// Output:
	// 0.10 mm 0.01 <nil>
	// not a measured value; value: got "0.18", want a number and its unit, as in 0.10 mm
}
