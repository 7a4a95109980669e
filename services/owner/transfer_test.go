package owner

import (
	"bytes"
	"crypto/rand"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

func TestACodeIsReadHoweverItIsWritten(t *testing.T) {
	code, err := NewCode(rand.Reader)
	if err != nil || len(code) != 14 || code[4] != '-' || code[9] != '-' {
		t.Fatalf("got %q, %v", code, err)
	}
	plain, ok := PlainCode(code)
	if !ok || plain != strings.ReplaceAll(code, "-", "") {
		t.Fatalf("got %q, %v", plain, ok)
	}
	for _, written := range []string{plain, strings.ToLower(code), " " + code + "\n", strings.ReplaceAll(code, "-", " "), strings.ReplaceAll(code, "-", " - ")} {
		if got, ok := PlainCode(written); !ok || got != plain {
			t.Errorf("%q: got %q, %v", written, got, ok)
		}
	}
	for _, wrong := range []string{"", plain[:11], plain + "A", "0" + plain[1:], "O" + plain[1:], plain[:6] + "I" + plain[7:], plain[:11] + "1", strings.Repeat("-", 100)} {
		if got, ok := PlainCode(wrong); ok {
			t.Errorf("%q reads as %q", wrong, got)
		}
	}
}

func TestEachLetterOfACodeIsAsLikely(t *testing.T) {
	if len(codeLetters) != 32 || strings.ContainsAny(codeLetters, "01OI") {
		t.Fatalf("the letters are %s", codeLetters)
	}
	seen := map[rune]int{}
	for b := range 256 {
		code, err := NewCode(bytes.NewReader(bytes.Repeat([]byte{byte(b)}, codeLength)))
		if err != nil {
			t.Fatal(err)
		}
		seen[rune(code[0])]++
	}
	for r, n := range seen {
		if n != 8 || len(seen) != 32 {
			t.Errorf("%c comes of %d bytes of 256", r, n)
		}
	}
	if _, err := NewCode(bytes.NewReader(nil)); err == nil {
		t.Error("a code without chance")
	}
}

func TestAnOfferIsOpenUntilItsTimeIsOverOrTwentyWrongCodes(t *testing.T) {
	offer := Transfer{State: Offered, Created: morning, Expires: morning.Add(OfferLasts)}
	if !offer.Open(morning.Add(OfferLasts-1)) || offer.Open(morning.Add(OfferLasts)) {
		t.Error("its time is not thirty days")
	}
	if got := offer.AsOf(morning.Add(40 * 24 * time.Hour)); got.State != Expired || !got.Ended.Equal(offer.Expires) {
		t.Errorf("got %+v", got)
	}
	for n := 1; n <= 20; n++ {
		offer = offer.WrongCode(morning)
		if open := offer.Open(morning); open != (n < 20) {
			t.Errorf("open after %d wrong codes: %v", n, open)
		}
	}
	if _, err := offer.Closed(morning); err == nil {
		t.Error("a dead offer is called off")
	}
}

func TestATieThatIsCutHoldsNowhereFromThatDay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		day := func(name string) vehicle.Date {
			return vehicle.MustDate(2026, time.January, 1).AddDays(rapid.IntRange(0, 20).Draw(t, name))
		}
		tie := Tie{Start: day("start")}
		if rapid.Bool().Draw(t, "ends") {
			tie.End = tie.Start.AddDays(rapid.IntRange(0, 20).Draw(t, "length"))
		}
		on := day("on")
		cut := tie.Cut(on)
		for i := range 45 {
			d := vehicle.MustDate(2026, time.January, 1).AddDays(i)
			if want := tie.Lasts(d) && d.Before(on); cut.Lasts(d) != want {
				t.Fatalf("on %v: %v, want %v", d, cut.Lasts(d), want)
			}
		}
		if len((Tie{Role: Owner, Start: cut.Start, End: cut.End}).Faults()) > 0 || cut.Cut(on) != cut {
			t.Fatalf("got %+v", cut)
		}
	})
}

func TestWhoHoldsAVehicleOwnsItOrActsForTheEstate(t *testing.T) {
	from := vehicle.MustDate(2026, time.January, 1)
	for role, want := range map[Role]bool{Owner: true, Executor: true, Caretaker: false, Payer: false} {
		ties := []Tie{{Person: "p1", Role: role, Start: from, End: from.AddDays(5)}}
		if Holds(ties, "p1", from) != want || Holds(ties, "p1", from.AddDays(5)) || Holds(ties, "p2", from) {
			t.Errorf("%s", role)
		}
	}
}
