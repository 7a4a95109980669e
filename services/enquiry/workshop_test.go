package enquiry

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

func TestDistancesAreThosePublished(t *testing.T) {
	for name, c := range map[string]struct {
		a, b Place
		km   float64
	}{
		// The documentation of the Python package haversine, 2.x, on PyPI: Lyon to
		// Paris is 392.2172595594006 km, on a radius of 6,371.0088 km.
		"Lyon to Paris": {Place{45.7597, 4.8422}, Place{48.8567, 2.3508}, 392.2172595594006},
		// Rosetta Code, "Haversine formula": Nashville to Los Angeles is
		// 2,886.444442837983 km on a radius of 6,371.0 km; here on ours.
		"Nashville to Los Angeles": {Place{36.12, -86.67}, Place{33.94, -118.40}, 2886.444442837983 * 6371.0088 / 6371},
		// A sphere has these by its definition.
		"a place to itself":                  {Place{54.45, -2.45}, Place{54.45, -2.45}, 0},
		"a pole to the other":                {Place{90, 0}, Place{-90, 0}, math.Pi * 6371.0088},
		"a quarter of the equator":           {Place{0, 0}, Place{0, 90}, math.Pi / 2 * 6371.0088},
		"over the line at which days change": {Place{0, 179.5}, Place{0, -179.5}, math.Pi / 180 * 6371.0088},
		"opposite places, carried over 1":    {Place{34.6, 54.3}, Place{-34.6, -125.7}, math.Pi * 6371.0088},
		"others that are":                    {Place{71.5, 122.9}, Place{-71.5, -57.1}, math.Pi * 6371.0088},
	} {
		t.Run(name, func(t *testing.T) {
			if got := GreatCircle(c.a, c.b).In(vehicle.Kilometres); math.Abs(got-c.km) > 1e-3 {
				t.Errorf("got %.6f km, want %.6f", got, c.km)
			}
		})
	}
}

// drawPlace draws any place on the Earth.
func drawPlace(t *rapid.T, label string) Place {
	return Place{rapid.Float64Range(-90, 90).Draw(t, label+" north"), rapid.Float64Range(-180, 180).Draw(t, label+" east")}
}

// A distance is the same there and back, never more than half the way round, and
// no detour is shorter. Over three places rounding adds up to a few millimetres,
// and between opposite ones the haversine loses some metres.
func TestAGreatCircleIsADistance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := drawPlace(t, "a"), drawPlace(t, "b"), drawPlace(t, "c")
		ab, ba, bc, ac := GreatCircle(a, b), GreatCircle(b, a), GreatCircle(b, c), GreatCircle(a, c)
		if ab != ba || ab < 0 || ab.In(vehicle.Kilometres) > math.Pi*6371.0088+1e-3 || GreatCircle(a, a) != 0 {
			t.Errorf("%v to %v is %d there and %d back", a, b, ab, ba)
		}
		if ac > ab+bc+100_000 {
			t.Errorf("%v to %v is %d, and %d over %v", a, c, ac, ab+bc, b)
		}
	})
}

// chord is GreatCircle by another formula: the angle between two unit vectors,
// by the arc tangent of their cross and dot products.
func chord(a, b Place) float64 {
	vector := func(p Place) [3]float64 {
		lat, long := p.Latitude*math.Pi/180, p.Longitude*math.Pi/180
		return [3]float64{math.Cos(lat) * math.Cos(long), math.Cos(lat) * math.Sin(long), math.Sin(lat)}
	}
	u, v := vector(a), vector(b)
	x, y, z := u[1]*v[2]-u[2]*v[1], u[2]*v[0]-u[0]*v[2], u[0]*v[1]-u[1]*v[0]
	return math.Atan2(math.Sqrt(x*x+y*y+z*z), u[0]*v[0]+u[1]*v[1]+u[2]*v[2]) * 6371.0088
}

func TestAnotherFormulaAgrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawPlace(t, "a"), drawPlace(t, "b")
		if got, want := GreatCircle(a, b).In(vehicle.Kilometres), chord(a, b); math.Abs(got-want) > 0.2 {
			t.Errorf("%v to %v: got %f km, want %f", a, b, got, want)
		}
	})
}

var (
	fell    = Workshop{Organisation: "organisations/fell", Title: "Fell Side Motors", Country: "GB", Place: &Place{54.45, -2.45}}
	harbour = Workshop{Organisation: "organisations/harbour", Title: "Harbour Road Garage", Country: "GB", Place: &Place{50.10, -4.20}}
	quay    = Workshop{Organisation: "organisations/quay", Title: "Quay Street Workshop", Country: "AU", Place: &Place{-34.60, 151.40}}
	nowhere = Workshop{Organisation: "organisations/nowhere", Title: "Anywhere Motors"}
	shut    = Workshop{Organisation: "organisations/shut", Title: "Shut Garage", Country: "GB", Closed: true, Place: &Place{54.45, -2.45}}
)

func TestWhoKnowsTheVehicleComesFirstAndThenWhoIsNear(t *testing.T) {
	may := vehicle.MustDate(2026, 5, 8)
	all := []Workshop{shut, nowhere, quay, harbour, fell}
	near := &Place{50, -4}
	for name, c := range map[string]struct {
		Seeking
		want     string // titles and grounds, with " | " between
		sentence string // of the first
		asks     bool
	}{
		"nothing is known": {Seeking{}, "Anywhere Motors 5 | Fell Side Motors 5 | Harbour Road Garage 5 | Quay Street Workshop 5",
			"It is on record; nothing is known that would put it nearer than another.", true},
		"the owner's country is known": {Seeking{Country: "AU", Abroad: "Australia"}, "Quay Street Workshop 4 | Anywhere Motors 5 | Fell Side Motors 5 | Harbour Road Garage 5",
			"It is in Australia, where the owner lives.", true},
		"a place is known": {Seeking{Near: near, NearName: "Fictionbury", Unit: vehicle.Miles}, "Harbour Road Garage 3 | Fell Side Motors 3 | Quay Street Workshop 3 | Anywhere Motors 5",
			"It is about 11 miles from Fictionbury as the crow flies.", false},
		"it is assigned": {Seeking{Near: near, Assigned: []Assigned{{"vehicles/AM0101G/assignments/1", "organisations/fell", may}}},
			"Fell Side Motors 2 | Harbour Road Garage 3 | Quay Street Workshop 3 | Anywhere Motors 5", "The vehicle is assigned to them until 8 May 2026.", false},
		"visits are by the name, however it is spelt": {Seeking{Visits: []Worked{{DoneBy: "quay street  WORKSHOP", Day: may}, {DoneBy: "Fell Side Motors", Day: may.AddDays(-1)}}},
			"Quay Street Workshop 1 | Fell Side Motors 1 | Anywhere Motors 5 | Harbour Road Garage 5", "They did the visit of 8 May 2026.", false},
		"who recorded it counts before the name": {Seeking{Visits: []Worked{{Organisation: "organisations/fell", DoneBy: "Quay Street Workshop", Day: may}, {Organisation: "organisations/fell", Day: may.AddDays(-9)}}},
			"Fell Side Motors 1 | Anywhere Motors 5 | Harbour Road Garage 5 | Quay Street Workshop 5", "They did 2 of the last 2 visits, the latest on 8 May 2026.", false},
		"who is closed is not named": {Seeking{Visits: []Worked{{DoneBy: "Shut Garage", Day: may}}}, "Anywhere Motors 5 | Fell Side Motors 5 | Harbour Road Garage 5 | Quay Street Workshop 5",
			"It is on record; nothing is known that would put it nearer than another.", true},
	} {
		t.Run(name, func(t *testing.T) {
			candidates := c.Candidates(all)
			var got []string
			for _, k := range candidates {
				got = append(got, k.Title+" "+string('0'+rune(k.Ground)))
			}
			if text := strings.Join(got, " | "); text != c.want || candidates[0].Why.Sentence != c.sentence {
				t.Errorf("got %s\nwant %s\nthe first because: %s", text, c.want, candidates[0].Why.Sentence)
			}
			if _, asks := c.Question(candidates); asks != c.asks {
				t.Errorf("asks where the vehicle is: %v, want %v", asks, c.asks)
			}
		})
	}
}

func TestWhoCannotBeNamedIsSaid(t *testing.T) {
	day := vehicle.MustDate(2026, 5, 8)
	s := Seeking{Works: "Aldermoor Works", Visits: []Worked{{DoneBy: "Aldermoor Works", Day: day}, {DoneBy: "Lighthouse Auto", Day: day.AddDays(1)}, {DoneBy: "shut garage", Day: day}, {DoneBy: "Fell Side Motors", Day: day}, {}}}
	want := []string{
		"Lighthouse Auto did work on one of the last visits, and is not among the organisations on record: nothing here says how to reach them.",
		"The works itself did work on one of the last visits.", "Shut Garage did work on one of the last visits, and is closed.",
	}
	if got := s.Notes([]Workshop{shut, fell}); !slices.Equal(got, want) {
		t.Errorf("got %q", got)
	}
	if got := (Seeking{}).Notes([]Workshop{shut}); len(got) != 1 || got[0] != "There is no workshop on record that could be named." {
		t.Errorf("with none that is open: %q", got)
	}
}

// Whatever is known, everybody who is open is named once and nobody who is not,
// the grounds never go back, and among those that are near no farther one stands
// before a nearer.
func TestTheOrderHoldsWhateverIsKnown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := make([]Workshop, rapid.IntRange(0, 8).Draw(t, "workshops"))
		for i := range all {
			id := string(rune('a' + i))
			all[i] = Workshop{Organisation: "organisations/" + id, Title: id, Closed: rapid.Bool().Draw(t, "closed"), Country: rapid.SampledFrom([]string{"", "GB", "AU"}).Draw(t, "country")}
			if rapid.Bool().Draw(t, "placed") {
				at := drawPlace(t, id)
				all[i].Place = &at
			}
		}
		s := Seeking{Country: rapid.SampledFrom([]string{"", "GB", "AU"}).Draw(t, "owner's country"), Unit: vehicle.Kilometres}
		if rapid.Bool().Draw(t, "near") {
			at := drawPlace(t, "near")
			s.Near = &at
		}
		for range rapid.IntRange(0, 3).Draw(t, "visits") {
			s.Visits = append(s.Visits, Worked{DoneBy: rapid.SampledFrom([]string{"", "a", "b", "c", "z"}).Draw(t, "by"), Day: vehicle.MustDate(2026, 5, rapid.IntRange(1, 28).Draw(t, "day"))})
		}
		got := s.Candidates(all)
		open := 0
		for _, w := range all {
			named := 0
			for _, c := range got {
				if c.Organisation == w.Organisation {
					named++
				}
			}
			if want := map[bool]int{true: 0, false: 1}[w.Closed]; named != want {
				t.Errorf("%s, closed %v, is named %d times", w.Title, w.Closed, named)
			}
			if !w.Closed {
				open++
			}
		}
		for i := 1; i < len(got); i++ {
			a, b := got[i-1], got[i]
			if a.Ground > b.Ground || a.Ground == Near && b.Ground == Near && a.Distance > b.Distance {
				t.Errorf("%s (%d, %d) stands before %s (%d, %d)", a.Title, a.Ground, a.Distance, b.Title, b.Ground, b.Distance)
			}
		}
		if len(got) != open {
			t.Errorf("%d named of %d", len(got), open)
		}
	})
}
