package parts_test

import (
	"slices"
	"strings"
	"testing"

	"halfshaft/services/parts"
)

// Each title is of one part of a catalogue of all of them. The plurals are
// those of any English dictionary.
func TestAWordIsFoundInEachOfItsForms(t *testing.T) {
	titles := strings.Split("Bush;Carbon brush;Battery;Road spring leaf;Junction box;Washer;Lock tab, long;Locktab, short;U-bolt;Glass;Brass pipe;"+
		"Canvas;Lens;Half shaft;Halfshaft, later;Hose;Valve;Shoe;Switch;Axle case;Tyre 205R16;Tyre 205R18;Bolt M8;Bolt M10;Bulb 12V;Bulb 24 V;"+
		"Union, half inch;Union, three inch;Number plate;Hand brake lever;Side gear;Mechanic's stool;Carpet;Car pet guard;Tail clamp;Jubilee 1 5;Tooth;Bearing;Bear", ";")
	c := parts.NewCatalogue()
	for i, title := range titles {
		c.Put(part("F-"+string(rune('A'+i/26))+string(rune('A'+i%26)), title))
	}
	c.Seal()
	for _, test := range []struct{ text, want string }{
		{"bushes", "Bush"}, {"brushes", "Carbon brush"}, {"batteries", "Battery"}, {"leaves", "Road spring leaf"},
		{"boxes", "Junction box"}, {"washers", "Washer"}, {"washer's", "Washer"}, {"glasses", "Glass"}, {"glass", "Glass"},
		{"brass pipes", "Brass pipe"}, {"canvas", "Canvas"}, {"lenses", "Lens"}, {"lens", "Lens"}, {"hoses", "Hose"}, {"valves", "Valve"},
		{"shoes", "Shoe"}, {"switches", "Switch"}, {"axle cases", "Axle case"}, {"teeth", "Tooth"}, {"mechanic’s stools", "Mechanic's stool"},
		{"lock tab", "Locktab, short;Lock tab, long"}, {"locktab", "Locktab, short;Lock tab, long"}, {"lock-tabs", "Locktab, short;Lock tab, long"},
		{"LOCKTABS", "Locktab, short;Lock tab, long"}, {"tab lock", "Lock tab, long"},
		{"u-bolt", "U-bolt"}, {"u bolt", "U-bolt"}, {"ubolt", "U-bolt"}, {"ubolts", "U-bolt"},
		{"half shaft", "Half shaft;Halfshaft, later"}, {"halfshafts", "Half shaft;Halfshaft, later"},
		{"205r16", "Tyre 205R16"}, {"205 r16", "Tyre 205R16"}, {"205/R16", "Tyre 205R16"}, {"205r17", ""}, {"205r1", ""}, {"m8", "Bolt M8"}, {"M 8", "Bolt M8"}, {"m1", ""},
		{"m9", ""}, {"12v", "Bulb 12V"}, {"12 v", "Bulb 12V"}, {"24V", "Bulb 24 V"}, {"13v", ""},
		{"half inch union", "Union, half inch"}, {"four inch union", ""}, {"hald inch union", ""},
		{"number plate", "Number plate"}, {"hand brake", "Hand brake lever"}, {"handbrake", "Hand brake lever"}, {"side gears", "Side gear"},
		{"left hand hose", "Hose"}, {"which side is the hose", "Hose"}, {"what is the number of the hose", "Hose"},
		{"carpets", "Carpet;Car pet guard"}, {"car bush", ""}, {"15", ""},
		{"bearing", "Bearing"}, {"bear", "Bear;Bearing"}, {"washing", ""}, {"brushed", ""},
		{"tail lamp", "Tail clamp"}, {"clmap", "Tail clamp"}, {"clam", "Tail clamp"}, {"clampp", "Tail clamp"}, {"clomp", "Tail clamp"},
	} {
		var got []string
		for _, f := range c.Search(test.text, 10) {
			got = append(got, f.Part.Title)
		}
		if strings.Join(got, ";") != test.want {
			t.Errorf("%q finds %q, want %s", test.text, got, test.want)
		}
	}
}

func TestANameWrittenAsOneWordIsTheName(t *testing.T) {
	c := catalogueOf([]parts.Part{part("A-1", "U-bolt"), part("A-2", "Plate", words("ubolt")), part("A-3", "U-bolt plate")}, nil)
	for _, text := range []string{"ubolt", "u bolt", "U-bolts"} {
		if got, want := judged(c.Search(text, 5)), []string{"A-2, exactly, named true", "A-1, exactly, named true", "A-3, exactly, named false"}; !slices.Equal(got, want) {
			t.Errorf("%q finds %q, want %q", text, got, want)
		}
	}
}

func TestWhatOneWordMayMeanStaysWithThePartThatSaysSo(t *testing.T) {
	c := catalogueOf([]parts.Part{
		part("A-1", "Carburettor", words("carburetor", "swivle pot")), part("A-2", "Carburettor, twin"),
		part("A-3", "Swivel pin"), part("A-4", "Tab washer", words("lock tab")), part("A-5", "Tab"),
	}, nil)
	for _, test := range []struct{ name, text, want string }{
		{"another spelling is that of its part", "carburetor", "A-1, exactly"},
		{"a misspelling that a part lists is not one of another part", "swivle", "A-1, exactly"},
		{"unless nothing else has all the words", "swivle pin", "A-3, by one wrong letter"},
		{"a phrase helps its part only", "lock tab", "A-4, exactly"},
	} {
		if got := strings.Join(listed(c.Search(test.text, 5)), "; "); got != test.want {
			t.Errorf("%s: %q finds %q, want %q", test.name, test.text, got, test.want)
		}
	}
}

func TestANumberIsFoundWhoeverGaveIt(t *testing.T) {
	c := catalogueOf([]parts.Part{
		part("AP-2041", "Seal", elsewhere("77/12-3", "K 9")), part("AP-2042", "Seal, later", elsewhere("77-123")), part("K9", "Clip"),
		part("AP-2043", "Seal, last"), part("AP-2044", "Seal, last of all"),
	}, []parts.Supersession{{ID: "S1", Old: "AP-2042", New: lines(line("AP-2043", 1))}, {ID: "S2", Old: "AP-2043", New: lines(line("AP-2044", 1))}})
	for _, test := range []struct{ name, text, want string }{
		{"with separators", "AP-2041", "AP-2041, by its number"},
		{"without", "ap2041", "AP-2041, by its number"},
		{"with others", "AP 20/41", "AP-2041, by its number"},
		{"two that were known by one number", "77123", "AP-2041, by another number; AP-2042, by another number; AP-2043, by supersession; AP-2044, by supersession"},
		{"the own number goes first", "k 9", "K9, by its number; AP-2041, by another number"},
		{"an old number leads on", "the AP-2043 please", "AP-2043, by its number; AP-2044, by supersession"},
		{"a near miss", "AP-2O44", "AP-2044, by a number one character away"},
		{"a near miss of the number of elsewhere", "77-124", "AP-2041, by a number one character away; AP-2042, by a number one character away"},
	} {
		if got := strings.Join(listed(c.Search(test.text, 5)), "; "); got != test.want {
			t.Errorf("%s: %q finds %q, want %q", test.name, test.text, got, test.want)
		}
	}
	fits := c.Subset([]string{"AP-2044"})
	if got := listed(c.SearchWithin(fits, "77 123", 5)); !slices.Equal(got, []string{"AP-2044, by supersession"}) {
		t.Errorf("within what fits an old number finds %v", got)
	}
}

// FuzzSearch searches for anything: what is found is part of the catalogue,
// each part once, in the order of the ranking, never more than asked for, and
// the same when it is asked again; the first few are the beginning of more.
func FuzzSearch(f *testing.F) {
	for _, c := range cases {
		f.Add(c.question)
	}
	for _, text := range []string{"", "\xff\xfe left 's ’s", "ubolts’s 1/2", "AP–1010–L", strings.Repeat("lock", 60), "İ ǅ ſeal ß", "a,b;c", "'s"} {
		f.Add(text)
	}
	c := catalogueOf(shedParts(), shedSupersessions())
	fits := c.Subset([]string{"AP-1100", "AP-1190", "AP-2002", "AP-6500", "none"})
	f.Fuzz(func(t *testing.T, text string) {
		if len(text) > 400 {
			return // the server refuses more than 200 characters
		}
		all := c.Search(text, 100)
		checkFound(t, c, text, all)
		if few := c.Search(text, 3); !slices.Equal(few, all[:min(3, len(all))]) {
			t.Fatalf("%q: %v are not the first of %v", text, few, all)
		}
		if len(c.Search(text, 0))+len(c.Search(text, -1)) > 0 {
			t.Fatalf("%q: found where none were asked for", text)
		}
		within := c.SearchWithin(fits, text, 100)
		checkFound(t, c, text, within)
		if len(within) > fits.Len() {
			t.Fatalf("%q: %d within %d", text, len(within), fits.Len())
		}
	})
}

func checkFound(t *testing.T, c *parts.Catalogue, text string, found []parts.Found) {
	seen := map[string]bool{}
	for i, f := range found {
		switch {
		case f.Part == nil || f.Part != c.Part(f.Part.Number):
			t.Fatalf("%q: %v is not of the catalogue", text, f.Part)
		case seen[f.Part.Number]:
			t.Fatalf("%q: %s twice", text, f.Part.Number)
		case i > 0 && f.Met < found[i-1].Met:
			t.Fatalf("%q: %s before %s", text, found[i-1].Met, f.Met)
		case strings.HasPrefix(f.Met.String(), "Met("):
			t.Fatalf("%q: %s", text, f.Met)
		case (f.By != "") != (f.Met <= parts.BySupersession || f.Met == parts.ByNearNumber):
			t.Fatalf("%q: %s by %q", text, f.Met, f.By)
		}
		seen[f.Part.Number] = true
	}
}
