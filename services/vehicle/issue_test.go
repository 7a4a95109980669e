package vehicle_test

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

func TestTheNumberOfANewVehicleIsReadAsPeopleWriteIt(t *testing.T) {
	for text, want := range map[string]string{
		"AM0165": "AM0165", "am 0165": "AM0165", "am-01.65": "AM0165", " A12 ": "A12",
		"": "", "A1": "", "0165": "", "AM01*5": "", "AM0165/": "AM0165", "AM01234567890": "", "ÄM0165": "",
	} {
		got, err := vehicle.ParseBody(text)
		if got != want || (err == nil) != (want != "") {
			t.Errorf("%q: got %q, %v, want %q", text, got, err, want)
		}
	}
}

// The next serial is the first of the numbers behind that may be issued, by
// printing each number and asking.
func TestTheNextSerialIsTheFirstBehindThatMayBeIssued(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 9999).Draw(t, "number")
		var want vehicle.Serial
		for i := n + 1; i <= 9999 && want == ""; i++ {
			want, _ = vehicle.NewSerial(fmt.Sprintf("AM%04d", i))
		}
		got, ok := vehicle.NextIssuable(fmt.Sprintf("AM%04d", n))
		if got != want || ok != (want != "") {
			t.Errorf("behind %04d: got %q, %v, want %q", n, got, ok, want)
		}
	})
	if got, ok := vehicle.NextIssuable("AMX"); ok {
		t.Errorf("behind a number without digits: %s", got)
	}
}
