package reminderwords

import (
	"math"
	"strconv"
	"testing"
)

// luminance is the relative luminance of a colour as "#rrggbb": WCAG 2.2,
// definition of "relative luminance".
func luminance(t *testing.T, colour string) float64 {
	t.Helper()
	if len(colour) != 7 || colour[0] != '#' {
		t.Fatalf("colour: got %q, want #rrggbb", colour)
	}
	sum := 0.0
	for n, weight := range []float64{0.2126, 0.7152, 0.0722} {
		v, err := strconv.ParseUint(colour[1+2*n:3+2*n], 16, 8)
		if err != nil {
			t.Fatal(err)
		}
		c := float64(v) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}

// contrast is WCAG 2.2, definition of "contrast ratio".
func contrast(t *testing.T, a, b string) float64 {
	l, d := luminance(t, a), luminance(t, b)
	return (max(l, d) + 0.05) / (min(l, d) + 0.05)
}

func TestContrastIsComputedAsTheStandardSays(t *testing.T) {
	// WCAG 2.2, "contrast ratio": from 1 to 21. The grey #767676 on white is the
	// darkest pair that is often named as passing 4.5 (from memory: 4.54).
	for _, c := range []struct {
		a, b string
		want float64
	}{{"#ffffff", "#000000", 21}, {"#123456", "#123456", 1}, {"#767676", "#ffffff", 4.54}} {
		if got := contrast(t, c.a, c.b); math.Abs(got-c.want) > 0.005 {
			t.Errorf("%s on %s: got %.3f, want %.2f", c.a, c.b, got, c.want)
		}
	}
}

func TestThePaletteCanBeRead(t *testing.T) {
	for name, p := range map[string]palette{"light": light, "dark": dark} {
		// WCAG 2.2 success criterion 1.4.3: 4.5 for words.
		for _, c := range [][3]string{
			{"ink", p.Ink, p.Page}, {"quiet", p.Quiet, p.Page}, {"link", p.Link, p.Page}, {"button", p.OnButton, p.Button},
		} {
			if got := contrast(t, c[1], c[2]); got < 4.5 {
				t.Errorf("%s, %s: got %.2f, want 4.5", name, c[0], got)
			}
		}
		// WCAG 2.2 success criterion 1.4.11: 3 for what tells a thing from its
		// surroundings.
		for _, c := range [][3]string{{"vehicle", p.Vehicle, p.Page}, {"warning", p.Warning, p.Page}, {"button", p.Button, p.Page}} {
			if got := contrast(t, c[1], c[2]); got < 3 {
				t.Errorf("%s, %s: got %.2f, want 3", name, c[0], got)
			}
		}
	}
}
