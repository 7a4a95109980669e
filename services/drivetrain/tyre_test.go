package drivetrain_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"halfshaft/services/drivetrain"
	"halfshaft/services/fault"
)

func TestPublishedTyresRollAsPublished(t *testing.T) {
	// O-13: a tyre maker's "Sizes and specifications" sheet, mud-terrain: size,
	// turns per mile, circumference in inches, and the ratio of that to the
	// outside diameter, recomputed.
	for _, c := range []struct {
		size                   string
		turns, inches, od, fit float64
	}{
		{"LT235/85R16", 648, 97.778, 32.0, 3.0556},
		{"LT245/75R16", 674, 94.006, 30.7, 3.0621},
		{"LT265/75R16", 651, 97.327, 31.8, 3.0606},
		{"LT285/75R16", 628, 100.892, 33.0, 3.0573},
		{"LT255/85R16", 620, 102.194, 33.5, 3.0506},
		{"LT315/75R16", 595, 106.487, 34.9, 3.0512},
	} {
		got, err := drivetrain.RollingCircumference(drivetrain.Tyre{Size: c.size, Pattern: "mud-terrain"})
		if err != nil || got.Estimated {
			t.Errorf("%s: %+v, %v", c.size, got, err)
			continue
		}
		inches := got.Millimetres / 25.4
		if !near(drivetrain.RevsPerMile(got), c.turns) || math.Abs(inches-c.inches) > 5e-4 || math.Abs(inches/c.od-c.fit) > 5e-5 {
			t.Errorf("%s: %.4f turns per mile, %.4f in, ratio %.5f", c.size, drivetrain.RevsPerMile(got), inches, inches/c.od)
		}
		// F3: calculated from the size it must come within a percent and a half
		// of the published value (the largest of these is 1.1 %).
		calculated, err := drivetrain.NominalDiameter(c.size)
		if off := calculated*3.05/got.Millimetres - 1; err != nil || math.Abs(off) > 0.015 {
			t.Errorf("%s: calculated %.1f mm across, off by %.2f %%, %v", c.size, calculated, 100*off, err)
		}
	}
}

func TestTheNominalDiameterFollowsFromTheSize(t *testing.T) {
	for size, want := range map[string]float64{
		"265/75R16":      803.9, // O-14, geometry
		"235/85R16":      805.9, // O-14
		"245/75R16":      773.9, // O-14
		"205R16":         734.4, // F2: at 80 %
		"31x10.50R15":    787.4, // 31 in
		"31×10.50R15 LT": 787.4,
		"P245/75 R16 C":  773.9,
		"245/75zr16":     773.9,
		"245/75-16 8PR":  773.9,
	} {
		if got, err := drivetrain.NominalDiameter(size); err != nil || math.Abs(got-want) > 0.05 {
			t.Errorf("%s: %.2f mm, %v; want %.1f", size, got, err, want)
		}
	}
}

func TestATyreIsLookedUpByPatternThenSizeThenCalculated(t *testing.T) {
	for _, c := range []struct {
		name, size, pattern string
		want                float64
		source              string
		estimated           bool
	}{
		{"size and pattern", "235/85 R 16", "Mud Terrain", 2483.55556, "published", false},            // 1609344/648, O-13
		{"the size for any pattern", "235/85R16", "all-terrain", 2458, "from memory", true},           // from memory
		{"the size in another pattern", "265/75R16", "all-terrain", 2472.11060, "mud-terrain", false}, // 1609344/651, O-13
		{"a numeric inch size", "7.50-16", "bar-tread", 2407, "from memory", true},                    // from memory
		{"with a typographic dash", "7.50\u201316", "", 2407, "from memory", true},                    // from memory
		{"with a ply rating", "7.50-16 8PR", "", 2407, "from memory", true},                           // from memory
		{"a radial of that size", "7.50R16", "", 2455, "from memory", true},                           // from memory
		{"a smaller one", "6.50-16", "", 2243, "from memory", true},                                   // from memory
		{"no aspect printed", "205R16", "", 2245, "from memory", true},                                // from memory
		{"calculated, radial", "225/75R16", "", 3.05 * 743.9, "calculated", true},                     // F2, F3
		{"calculated, cross-ply", "225/75-16", "", 2.99 * 743.9, "calculated", true},                  // F2, F3
	} {
		got, err := drivetrain.RollingCircumference(drivetrain.Tyre{Size: c.size, Pattern: c.pattern})
		if err != nil || !near(got.Millimetres, c.want) || got.Estimated != c.estimated || !strings.Contains(got.Source, c.source) {
			t.Errorf("%s: %+v, %v; want %.3f mm, %s", c.name, got, err, c.want, c.source)
		}
	}
}

func TestASizeThatDoesNotTellTheHeightIsRefused(t *testing.T) {
	for _, size := range []string{
		"", "6.00-16", "235", "235/85", "235/85R160", "999/99R16", "235/05R16", "235/85R99", "99x10.50R15", "R16", "235/85X16",
		strings.Repeat(" ", 100) + "235/85R16",
	} {
		c, err := drivetrain.RollingCircumference(drivetrain.Tyre{Size: size})
		var f *fault.Error
		if !errors.As(err, &f) || f.Kind != fault.Invalid || f.Reason != "TYRE_SIZE" || c.Millimetres != 0 {
			t.Errorf("RollingCircumference(%q) = %+v, %v; want an Invalid fault TYRE_SIZE", size, c, err)
		}
		if _, err := drivetrain.NominalDiameter(size); err == nil {
			t.Errorf("NominalDiameter(%q) is given", size)
		}
		if _, err := drivetrain.OutsideDiameter(drivetrain.Tyre{Size: size}); err == nil {
			t.Errorf("OutsideDiameter(%q) is given", size)
		}
	}
}

func FuzzRollingCircumference(f *testing.F) {
	for _, seed := range []string{"7.50-16", "LT235/85R16", "31x10.50R15LT", "205R16", "", "999/999R99", "235/85R16\xff", "0X0R16"} {
		f.Add(seed, "mud-terrain")
	}
	f.Fuzz(func(t *testing.T, size, pattern string) {
		c, err := drivetrain.RollingCircumference(drivetrain.Tyre{Size: size, Pattern: pattern})
		if err != nil {
			if !fault.Is(err, fault.Invalid) {
				t.Fatal(err)
			}
			return
		}
		if !(c.Millimetres > 900 && c.Millimetres < 5000) || c.Source == "" {
			t.Fatalf("%q %q: %+v", size, pattern, c)
		}
	})
}
