package console

import (
	"strings"
	"testing"

	"halfshaft/services/fault"
	"halfshaft/services/wording"
)

func TestAmountsAreReadToTheHundredth(t *testing.T) {
	for text, want := range map[string]int64{
		"0": 0, "0.00": 0, "1": 100, "1234.50": 123450, "1,234.50": 123450, " 12,345,678.09 ": 1234567809,
		"0.01": 1, "100000000": 10_000_000_000, "007.10": 710,
	} {
		if got, err := parseMoney("limit", text); err != nil || got != want {
			t.Errorf("%q: got %d, %v; want %d", text, got, err, want)
		}
	}
	for _, text := range []string{
		"", ".", "1.", ".50", "12.5", "12.500", "1,23.00", "1234,567.00", ",123.00", "1,,234.00", "-1.00", "+1.00", "1.0a", "1e3", "£1.00", "1 234.00", "1.234,50",
		"100000000.01", "99999999999999999999", "1,2345.00", "١.00",
	} {
		got, err := parseMoney("limit", text)
		if !fault.Is(err, fault.Invalid) {
			t.Errorf("%q: got %d, %v; want a refusal", text, got, err)
		}
	}
}

func TestAmountsAreWritten(t *testing.T) {
	for want, minor := range map[string]int64{
		"0.00 GBP": 0, "0.05 GBP": 5, "1,234.50 GBP": 123450, "123.00 GBP": 12300, "-0.05 GBP": -5, "-1,000,000.10 GBP": -100000010,
		"-92,233,720,368,547,758.08 GBP": -1 << 63,
	} {
		if got := wording.Money(minor, "GBP"); got != want {
			t.Errorf("%d: got %q, want %q", minor, got, want)
		}
	}
}

func FuzzParseMoney(f *testing.F) {
	for _, text := range []string{"1,234.50", "0", "12.5", "-1.00", "100000000.00", "1,23"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		n, err := parseMoney("limit", text)
		if err != nil {
			if !fault.Is(err, fault.Invalid) {
				t.Fatalf("%q: %v", text, err)
			}
			return
		}
		if n < 0 || n > 10_000_000_000 {
			t.Fatalf("%q: %d", text, n)
		}
		again, err := parseMoney("limit", wording.Money(n, ""))
		if err != nil || again != n {
			t.Fatalf("%q is %d, which is written %q and read as %d, %v", text, n, wording.Money(n, ""), again, err)
		}
		// The digits are those of the text, whatever stands between them.
		digits := strings.TrimLeft(strings.NewReplacer(",", "", ".", "", " ", "").Replace(strings.TrimSpace(text)), "0")
		if !strings.Contains(text, ".") && digits != "" {
			digits += "00"
		}
		if got := strings.TrimLeft(strings.NewReplacer(",", "", ".", "").Replace(wording.Money(n, "")), "0"); got != digits {
			t.Fatalf("%q became %q", text, got)
		}
	})
}
