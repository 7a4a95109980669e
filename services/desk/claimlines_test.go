package desk

import (
	"net/url"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
)

// What a claim asks for is shown in lines to be changed: whatever stands in them
// comes back as it was, where nobody changed it.
func TestTheLinesOfAClaimReadAsWhatTheyShow(t *testing.T) {
	name := rapid.StringMatching(`[A-Za-z0-9.-]{1,12}`)
	text := rapid.StringMatching(`[A-Za-z][A-Za-z ,.0-9-]{0,20}[A-Za-z]( at [0-9]{1,3})?`)
	rapid.Check(t, func(t *rapid.T) {
		want := &warrantyv1.Claim{}
		for range rapid.IntRange(0, 4).Draw(t, "lines") {
			want.Parts = append(want.Parts, &warrantyv1.ClaimPart{
				Part: name.Draw(t, "part"), Quantity: rapid.Int32Range(1, 1000).Draw(t, "quantity"), UnitPriceMinor: rapid.Int64Range(0, 10_000_000_000).Draw(t, "price"),
				FailedLot: rapid.OneOf(rapid.Just(""), name).Draw(t, "failed"), FittedLot: rapid.OneOf(rapid.Just(""), name).Draw(t, "fitted"),
			})
			want.Labour = append(want.Labour, &warrantyv1.ClaimLabour{Text: text.Draw(t, "work"), Minutes: rapid.Int32Range(1, 60_000).Draw(t, "minutes"), HourlyRateMinor: rapid.Int64Range(0, 10_000_000_000).Draw(t, "rate")})
			want.OtherCosts = append(want.OtherCosts, &warrantyv1.ClaimCost{Text: text.Draw(t, "cost"), AmountMinor: rapid.Int64Range(0, 10_000_000_000).Draw(t, "amount")})
		}
		form := typed{visit: sent(url.Values{"p": {partLines(want.GetParts())}, "l": {labourLines(want.GetLabour())}, "c": {costLines(want.GetOtherCosts())}})}
		got := &warrantyv1.Claim{Parts: form.claimParts("p"), Labour: form.claimLabour("l"), OtherCosts: form.claimCosts("c")}
		if !proto.Equal(got, want) || len(form.wrong) > 0 {
			t.Fatalf("got %v, refused %v; want %v", got, form.wrong, want)
		}
	})
}

func TestLinesOfAClaimAreReadAsTheyAreWritten(t *testing.T) {
	form := typed{visit: sent(url.Values{
		"p": {"AP-2041 at 24.5\r\n2 x AP-2042 AT 1,024.50, failed lot L-77, fitted lot L-80\n3× AP-2043 at 0 fitted lot 9"},
		"l": {"gearbox out and in, 2.5 hours at 60\n\n"}, "c": {"carriage, at night at 12.00"},
	})}
	got := &warrantyv1.Claim{Parts: form.claimParts("p"), Labour: form.claimLabour("l"), OtherCosts: form.claimCosts("c")}
	want := &warrantyv1.Claim{
		Parts: []*warrantyv1.ClaimPart{{Part: "AP-2041", Quantity: 1, UnitPriceMinor: 2450}, {Part: "AP-2042", Quantity: 2, UnitPriceMinor: 102450, FailedLot: "L-77", FittedLot: "L-80"},
			{Part: "AP-2043", Quantity: 3, FittedLot: "9"}},
		Labour:     []*warrantyv1.ClaimLabour{{Text: "gearbox out and in", Minutes: 150, HourlyRateMinor: 6000}},
		OtherCosts: []*warrantyv1.ClaimCost{{Text: "carriage, at night", AmountMinor: 1200}},
	}
	if !proto.Equal(got, want) || len(form.wrong) > 0 {
		t.Errorf("got %v, refused %v; want %v", got, form.wrong, want)
	}
}

// Each line that is none is said, in its own words; the others are not.
func TestEachLineOfAClaimThatIsNoneIsSaid(t *testing.T) {
	bad := map[string][]string{
		"p": {"AP-2041", "AP-2041 for 24.50", "AP-2041 at 24,50", "AP-2041 at", "2 AP-2041 at 24.50 lot 7", "9999999999 AP-2041 at 1", strings.Repeat("x", 500)},
		"l": {"gearbox out and in", "gearbox, 300 at 60", "gearbox 300 minutes at 60", "gearbox, 1.005 hours at 60", "gearbox, 300 minutes"},
		"c": {"carriage", "carriage 12.00", "carriage at twelve", "at 12.00", "carriage at -1"},
	}
	for name, lines := range bad {
		form := typed{visit: sent(url.Values{name: {strings.Join(lines, "\n")}})}
		form.claimParts("p")
		form.claimLabour("l")
		form.claimCosts("c")
		if len(form.wrong) != len(lines) {
			t.Errorf("%s: %d of %d are refused: %v", name, len(form.wrong), len(lines), form.wrong)
			continue
		}
		for i, f := range form.wrong {
			if f.Name != name || !strings.Contains(f.Want, f.Got) || len(f.Want) > 300 || !strings.HasPrefix(lines[i], strings.TrimSuffix(f.Got, "…")) {
				t.Errorf("%s: %q is said to be %+v", name, lines[i], f)
			}
		}
	}
}

// However lines are written, what is read of them is shown so that it reads the
// same.
func FuzzClaimLines(f *testing.F) {
	for _, seed := range []string{"2 x AP-2042 at 1,024.50, failed lot L-77, fitted lot L-80\nAP-1 at 3", "gearbox out and in, 2.5 hours at 60", "carriage at 12.00", "1 at at 1", ", 1 minute at 1", " at at 1"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		read := func(p, l, c string) *warrantyv1.Claim {
			form := typed{visit: sent(url.Values{"p": {p}, "l": {l}, "c": {c}})}
			return &warrantyv1.Claim{Parts: form.claimParts("p"), Labour: form.claimLabour("l"), OtherCosts: form.claimCosts("c")}
		}
		first := read(text, text, text)
		if again := read(partLines(first.GetParts()), labourLines(first.GetLabour()), costLines(first.GetOtherCosts())); !proto.Equal(first, again) {
			t.Errorf("%q is read as %v, and what is shown of it as %v", text, first, again)
		}
	})
}
