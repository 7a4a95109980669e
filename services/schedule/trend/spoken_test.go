package trend

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// measurable is some of what is measured on a vehicle.
var measurable = []Named{
	{"output-shaft-bearing", "end-float", "T02", "Output-shaft end-float and re-shim check"},
	{"hub-front-left", "end-float", "S05", "Wheel-hub bearing check and grease"},
	{"hub-front-right", "end-float", "S05", "Wheel-hub bearing check and grease"},
	{"hub-rear-left", "end-float", "S05", "Wheel-hub bearing check and grease"},
	{"engine", "inlet-clearance", "E04", "Valve-clearance check"},
	{"engine", "exhaust-clearance", "E04", "Valve-clearance check"},
	{"distributor", "gap", "E06", "Contact-point service (gap, dwell, cam grease)"},
	{"distributor", "dwell", "E06", "Contact-point service (gap, dwell, cam grease)"},
	{"spark-plugs", "gap", "E07", "Spark-plug clean and gap"},
	{"tyres", "tread-depth", "W03", "Tyre inspection"},
	{"", "toe-in", "R04", "Wheel alignment"},
	{"brakes-front", "lining-above-rivet", "B02F", "Front drum-brake adjustment and inspection"},
	{"parking-brake", "lining-above-rivet", "T04", "Transmission brake adjustment"},
	{"transfer-case", "end-float", "T03", "Intermediate-gear end-float check"},
}

func named(found []int) string {
	var all []string
	for _, i := range found {
		all = append(all, measurable[i].Position+":"+measurable[i].Characteristic)
	}
	return strings.Join(all, " ")
}

func TestWhatWasMeasuredAsPeopleSayIt(t *testing.T) {
	for words, want := range map[string]string{
		"output-shaft-bearing":               "output-shaft-bearing:end-float",
		"output shaft":                       "output-shaft-bearing:end-float",
		"end float output shaft":             "output-shaft-bearing:end-float",
		"the float of the output shaft":      "output-shaft-bearing:end-float",
		"Hub Front":                          "hub-front-left:end-float hub-front-right:end-float",
		"left front hub":                     "hub-front-left:end-float",
		"wheel bearing":                      "hub-front-left:end-float hub-front-right:end-float hub-rear-left:end-float",
		"valve clearance":                    "engine:inlet-clearance engine:exhaust-clearance",
		"exhaust valve clearance":            "engine:exhaust-clearance",
		"points gap":                         "distributor:gap",
		"gap":                                "distributor:gap spark-plugs:gap",
		"plug gap":                           "spark-plugs:gap",
		"tyre tread":                         "tyres:tread-depth",
		"tread on the tyres":                 "tyres:tread-depth",
		"tyre's tread":                       "tyres:tread-depth",
		"toe in":                             "toe-in",
		"toe-in":                             "toe-in",
		"engine":                             "engine:inlet-clearance engine:exhaust-clearance",
		"brakes":                             "brakes-front:lining-above-rivet",
		"brake lining":                       "brakes-front:lining-above-rivet parking-brake:lining-above-rivet",
		"transmission brake":                 "parking-brake:lining-above-rivet",
		"end float":                          "output-shaft-bearing:end-float hub-front-left:end-float hub-front-right:end-float hub-rear-left:end-float transfer-case:end-float",
		"T02":                                "output-shaft-bearing:end-float",
		"dist dwell":                         "distributor:dwell",
		"intermediate gear":                  "transfer-case:end-float",
		"it was measured with the":           "",
		"":                                   "",
		"flux of the capacitor":              "",
		"front brake":                        "brakes-front:lining-above-rivet",
		"clearance of the engine's exhausts": "engine:exhaust-clearance",
	} {
		found, unknown := Spoken(words, measurable)
		if got := strings.TrimPrefix(named(found), ":"); got != want || len(unknown) > 0 {
			t.Errorf("%q: %s, without %q; want %s", words, got, unknown, want)
		}
	}
}

func TestAWordThatNothingGoesByIsNamed(t *testing.T) {
	for words, want := range map[string][2]string{
		"output shaft flaot":     {"output-shaft-bearing:end-float", "flaot"},
		"rear tyre tread":        {"tyres:tread-depth", "rear"},
		"points gap cylinder 3":  {"distributor:gap", "cylinder 3"},
		"front tyre tread depht": {"tyres:tread-depth", "front depht"},
	} {
		found, unknown := Spoken(words, measurable)
		if named(found) != want[0] || strings.Join(unknown, " ") != want[1] {
			t.Errorf("%q: %s, without %q; want %s, without %q", words, named(found), unknown, want[0], want[1])
		}
	}
}

// The order of the words never matters where no name is written out, and what
// is found without an unknown word goes by all of them.
func TestWordsInAnyOrderMeanTheSame(t *testing.T) {
	vocabulary := []string{"hub", "front", "left", "gap", "tyre", "tread", "brake", "lining", "valve", "wheel", "bearing", "axle", "flaot"}
	rapid.Check(t, func(t *rapid.T) {
		said := rapid.SliceOfNDistinct(rapid.SampledFrom(vocabulary), 1, 4, rapid.ID).Draw(t, "words")
		other := rapid.Permutation(said).Draw(t, "other")
		if len(byName(strings.Join(said, "-"), measurable))+len(byName(strings.Join(other, "-"), measurable)) > 0 {
			return
		}
		a, unknown := Spoken(strings.Join(said, " "), measurable)
		if b, _ := Spoken(strings.Join(other, " "), measurable); !slices.Equal(a, b) {
			t.Fatalf("%v: %s; %v: %s", said, named(a), other, named(b))
		}
		for _, i := range a {
			n := measurable[i]
			text := " " + strings.NewReplacer("-", " ", "(", " ", ",", " ").Replace(strings.ToLower(n.Position+" "+n.Characteristic+" "+n.Title))
			for _, word := range said {
				if !strings.Contains(text, " "+word) && !slices.Contains(unknown, word) {
					t.Fatalf("%v: %v does not go by %s", said, n, word)
				}
			}
		}
	})
}
