//go:build long

package forecast_test

import (
	"os"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestLongCalibrationStandsAsWritten(t *testing.T) {
	want, err := os.ReadFile("CALIBRATION.md")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), report()); diff != "" {
		t.Errorf("CALIBRATION.md is not what it would be now (-file +now):\n%s", diff)
	}
}
