package vehicle_test

import (
	"encoding/json"
	"strings"
	"testing"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

func TestAQuantityKeepsItsResolutionAndUnit(t *testing.T) {
	for text, want := range map[string]string{
		"0.10 mm":      "0.10 mm",
		"0.10mm":       "0.10 mm",
		"  65  N·m ":   "65 N·m",
		"4.5 L":        "4.5 L",
		"-0.05 mm":     "-0.05 mm",
		"1.9 bar":      "1.9 bar",
		"12 fl  oz":    "12 fl oz",
		"95 °C":        "95 °C",
		"50%":          "50 %",
		".018 in":      "0.018 in",
		`0.018"`:       `0.018 "`,
		"9 lbf·ft":     "9 lbf·ft",
		"300 kg/m3":    "300 kg/m3",
		"18 µm":        "18 µm",
		"15 s":         "15 s",
		"3 E":          "3 E",
		"3 each":       "3 each",
		"20 teeth":     "20 teeth",
		"1.2 mm (hot)": "1.2 mm (hot)",
	} {
		q, err := vehicle.ParseQuantity(text)
		if err != nil || q.String() != want {
			t.Errorf("ParseQuantity(%q) = %q, %v; want %q", text, q, err, want)
		}
	}
	q, err := vehicle.ParseQuantity("0.10 mm")
	if err != nil || q.Value != (vehicle.Decimal{10, 2}) || q.Unit != "mm" {
		t.Errorf("ParseQuantity(0.10 mm) = %#v, %v", q, err)
	}
}

func TestANumberWithoutAUnitIsNoMeasuredValue(t *testing.T) {
	for _, text := range []string{
		"", "0.10", "mm", "0,10 mm", "1,230 mi", "0.10 - 0.20 mm", "5 10 mm", "1.2.3 mm", "1e5", "1e5 mm", "1E-5 mm",
		"0.10 mm\x00", "0.10 m\xffm", "5 " + strings.Repeat("m", 25), "5 $", "5 m\u0000m", "about 5 mm", "5 <b>",
	} {
		if q, err := vehicle.ParseQuantity(text); !fault.Is(err, fault.Invalid) || q != (vehicle.Quantity{}) {
			t.Errorf("ParseQuantity(%q) = %q, %v; want an Invalid fault", text, q, err)
		}
	}
}

func TestQuantitiesOfDifferentUnitsAreNotCompared(t *testing.T) {
	parse := func(text string) vehicle.Quantity {
		q, err := vehicle.ParseQuantity(text)
		if err != nil {
			t.Fatal(err)
		}
		return q
	}
	if order, ok := parse("0.18 mm").Cmp(parse("0.180 mm")); !ok || order != 0 {
		t.Errorf("0.18 mm against 0.180 mm: %d, %v", order, ok)
	}
	if order, ok := parse("0.18 mm").Cmp(parse("0.2 mm")); !ok || order != -1 {
		t.Errorf("0.18 mm against 0.2 mm: %d, %v", order, ok)
	}
	if _, ok := parse("0.18 mm").Cmp(parse("0.18 in")); ok {
		t.Error("millimetres are compared with inches")
	}
}

func TestAQuantityIsTextInJSON(t *testing.T) {
	type record struct{ Float, Unknown vehicle.Quantity }
	text, err := json.Marshal(record{Float: vehicle.Quantity{Value: vehicle.Decimal{10, 2}, Unit: "mm"}})
	if want := `{"Float":"0.10 mm","Unknown":""}`; err != nil || string(text) != want {
		t.Errorf("in JSON %s, %v; want %s", text, err, want)
	}
	var back record
	if err := json.Unmarshal(text, &back); err != nil || back.Float.String() != "0.10 mm" || back.Unknown != (vehicle.Quantity{}) {
		t.Errorf("from JSON %v, %v", back, err)
	}
	if err := json.Unmarshal([]byte(`{"Float":"0.10"}`), &back); err == nil {
		t.Error("a number without a unit is read from JSON")
	}
}

func FuzzParseQuantity(f *testing.F) {
	for _, seed := range []string{
		"0.10 mm", "65 N·m", "4.5L", "0.10", "1e5 mm", "1,5 mm", "50%", `0.018"`, "12 fl  oz", "5 \u00a0mm", "5 m\xff",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		q, err := vehicle.ParseQuantity(text)
		if err != nil {
			if !fault.Is(err, fault.Invalid) || q != (vehicle.Quantity{}) {
				t.Fatalf("ParseQuantity(%q) = %v, %v", text, q, err)
			}
			return
		}
		if again, err := vehicle.ParseQuantity(q.String()); err != nil || again != q {
			t.Fatalf("%q is written %q and read back as %v, %v", text, q, again, err)
		}
	})
}
