package console

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"

	"halfshaft/services/wording"
)

func TestATermIsReadAsSomebodyWritesIt(t *testing.T) {
	const text = `
name: warrantyTerms/GEARS-24/versions/1
title: Two years, parts
giver: supplier
supplier: Ferncombe Gears
parts: [AP-1100]
start: fitting
months: 24
distance: 24,000 mi
covers_parts: true
exclusions:
  - exclusion_id: wear
    text: Wear in ordinary use.
repair: {months: 3, distance: 500 km}
effective_date: 2026-01-01
midnight: works
sample: true
`
	want := &warrantyv1.WarrantyTerm{}
	if err := protojson.Unmarshal([]byte(`{"name":"warrantyTerms/GEARS-24/versions/1","title":"Two years, parts","giver":"WARRANTY_GIVER_SUPPLIER",
		"supplier":"Ferncombe Gears","parts":["AP-1100"],"start":"WARRANTY_START_FITTING","months":24,"distance":{"enteredValue":"24000","enteredUnit":"mi","millimetres":"38624256000"},
		"coversParts":true,"exclusions":[{"exclusionId":"wear","text":"Wear in ordinary use."}],"repair":{"months":3,"distance":{"enteredValue":"500","enteredUnit":"km","millimetres":"500000000"}},
		"effectiveDate":{"year":2026,"month":1,"day":1},"midnight":"WARRANTY_MIDNIGHT_WORKS","sample":true}`), want); err != nil {
		t.Fatal(err)
	}
	got := &warrantyv1.WarrantyTerm{}
	if err := readYAML([]byte(text), got); err != nil {
		t.Fatal(err)
	}
	got.Distance.Millimetres, got.Repair.Distance.Millimetres = 38_624_256_000, 500_000_000 // the service adds them
	if !proto.Equal(got, want) {
		t.Errorf("got  %v\nwant %v", got, want)
	}
}

func TestWhatIsWrongInAFileIsNamed(t *testing.T) {
	for name, c := range map[string][2]string{
		"a field that there is not":         {"nam: x", "nam"},
		"a field of a field":                {"exclusions: [{id: wear}]", "exclusions.id"},
		"a date that is none":               {"effective_date: 3/4/2026", "effective_date"},
		"a distance without a unit":         {"distance: 1200", "distance"},
		"a value that there is not":         {"giver: neighbour", "neighbour"},
		"text where there should be fields": {"repair: three months", "repair"},
		"no fields at all":                  {"- a", "file"},
		"more than one document":            {"title: a\n---\ntitle: b", "one document"},
		"what is no YAML":                   {"a: [", "YAML"},
		"nothing":                           {"", "file"},
	} {
		t.Run(name, func(t *testing.T) {
			err := readYAML([]byte(c[0]), &warrantyv1.WarrantyTerm{})
			if err == nil || !strings.Contains(err.Error(), c[1]) {
				t.Errorf("got %v, want it to name %s", err, c[1])
			}
		})
	}
}

func FuzzReadYAML(f *testing.F) {
	f.Add("title: a\neffective_date: 2026-01-01\ndistance: 12 mi")
	f.Add("exclusions: [{exclusion_id: wear}]\n? [a]\n: b")
	f.Add("a: &a [*a]")
	f.Fuzz(func(t *testing.T, text string) {
		for _, m := range []proto.Message{&warrantyv1.WarrantyTerm{}, &warrantyv1.Claim{}} {
			if err := readYAML([]byte(text), m); err == nil {
				if _, err := proto.Marshal(m); err != nil {
					t.Errorf("%q was read as what cannot be sent: %v", text, err)
				}
			}
		}
	})
}

func TestAmountsAreReadAsTheyArePrinted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		minor := rapid.Int64Range(0, 10_000_000_000).Draw(t, "minor")
		text, _, _ := strings.Cut(wording.Money(minor, "GBP"), " ")
		if got, err := parseMoney("x", text); got != minor || err != nil {
			t.Errorf("%d is printed %s and read %d, %v", minor, text, got, err)
		}
	})
	for minor, want := range map[int64]string{0: "0.00", 5: "0.05", 123_456: "1,234.56", -100_000: "-1,000.00", -1 << 63: "-92,233,720,368,547,758.08"} {
		if got := wording.Money(minor, ""); got != want {
			t.Errorf("%d: got %s, want %s", minor, got, want)
		}
	}
	for _, text := range []string{"", "x", "-1", "1.234", "1e3", "999999999999999999"} {
		if got, err := parseMoney("limit", text); err == nil {
			t.Errorf("%q is read as %d", text, got)
		}
	}
}

func TestCostsAreReadAsTyped(t *testing.T) {
	typed := ClaimTyped{Parts: []string{"AP-1110 x2 at 120.00", "AP-9 at 5"}, Labour: []string{"box out, in, 300 minutes at 60.00"}, Other: []string{"carriage at sea at 15.50"}}
	m := &warrantyv1.Claim{Parts: []*warrantyv1.ClaimPart{{Part: "old"}}}
	if err := typed.into(m); err != nil {
		t.Fatal(err)
	}
	want := &warrantyv1.Claim{Parts: []*warrantyv1.ClaimPart{{Part: "AP-1110", Quantity: 2, UnitPriceMinor: 12_000}, {Part: "AP-9", Quantity: 1, UnitPriceMinor: 500}},
		Labour:     []*warrantyv1.ClaimLabour{{Text: "box out, in", Minutes: 300, HourlyRateMinor: 6_000}},
		OtherCosts: []*warrantyv1.ClaimCost{{Text: "carriage at sea", AmountMinor: 1_550}}}
	if !proto.Equal(m, want) {
		t.Errorf("got  %v\nwant %v", m, want)
	}
	for text, want := range map[string]int32{"2.5 hours": 150, "1 hour": 60, "0.1 hours": 6, "0.25 hours": 15, "1 minute": 1, "45 minutes": 45, "2.50 hours": 150} {
		hours := ClaimTyped{Labour: []string{"box, " + text + " at 60.00"}}
		if err := hours.into(m); err != nil || m.GetLabour()[0].GetMinutes() != want {
			t.Errorf("%s: %v, %v", text, m.GetLabour(), err)
		}
	}
	for _, wrong := range []ClaimTyped{
		{Parts: []string{"AP-1110"}}, {Parts: []string{"AP-1110 x2x at 1"}}, {Labour: []string{"box at 60"}}, {Labour: []string{"box, three minutes at 60"}}, {Labour: []string{"box, 0.01 hours at 60"}}, {Labour: []string{"box, 3 days at 60"}}, {Labour: []string{"box, -1 hours at 60"}},
		{Other: []string{"carriage at much"}}, {Reading: "many"}, {Reading: "12"},
	} {
		if err := wrong.into(&warrantyv1.Claim{}); err == nil {
			t.Errorf("%+v is taken", wrong)
		}
	}
}
