package schedule_test

import (
	"bytes"
	"os"
	"strconv"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"halfshaft/services/internal/predicate"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// The tests read the demo's sample programme with a reader of their own: the
// one of services/exchange is a client of the services.

type yamlProgramme struct {
	Name      string       `yaml:"name"`
	Title     string       `yaml:"title"`
	Effective vehicle.Date `yaml:"effective_date"`
	Visits    struct {
		VisitCost int        `yaml:"visit_cost"`
		ItemCost  int        `yaml:"item_cost"`
		Together  []yamlPair `yaml:"together"`
		Apart     []yamlPair `yaml:"apart"`
	} `yaml:"visits"`
	Sample bool       `yaml:"sample"`
	Items  []yamlItem `yaml:"items"`
}

// yamlPair is two items, as the file has them.
type yamlPair struct {
	Item  string `yaml:"item_id"`
	Other string `yaml:"other_item_id"`
}

func pairsOf(from []yamlPair) (out [][2]string) {
	for _, p := range from {
		out = append(out, [2]string{p.Item, p.Other})
	}
	return out
}

type yamlItem struct {
	ID          string         `yaml:"item_id"`
	Title       string         `yaml:"title"`
	Group       string         `yaml:"group"`
	AppliesWhen string         `yaml:"applies_when"`
	Position    string         `yaml:"position"`
	First       yamlLimit      `yaml:"first"`
	FirstFrom   string         `yaml:"first_from"`
	Every       yamlLimit      `yaml:"every"`
	Severe      yamlSevere     `yaml:"severe"`
	StartsOn    []yamlStart    `yaml:"starts_on"`
	Resets      []string       `yaml:"resets"`
	Measured    []yamlMeasured `yaml:"measured"`
	Fluid       struct {
		Fluid    string `yaml:"fluid"`
		Quantity string `yaml:"quantity"`
		NeverMix string `yaml:"never_mix"`
	} `yaml:"fluid"`
	Parts []struct {
		Position string `yaml:"position"`
		Quantity int    `yaml:"quantity"`
		IfNeeded bool   `yaml:"if_needed"`
	} `yaml:"parts"`
	Tools      []string `yaml:"tools"`
	Caution    string   `yaml:"caution"`
	DocRef     string   `yaml:"doc_ref"`
	SourceMark string   `yaml:"source_mark"`
	LayUp      string   `yaml:"lay_up"`
	Class      string   `yaml:"item_class"`
	NoticeDays int      `yaml:"notice_days"`
	Why        string   `yaml:"why"`
	OwnerCheck bool     `yaml:"owner_check"`
	Keep       int      `yaml:"keep_calendar_days"`
}

type yamlLimit struct {
	Distance string `yaml:"distance"`
	Months   int    `yaml:"months"`
}

type yamlSevere struct {
	When           []string        `yaml:"when"`
	DistanceFactor vehicle.Decimal `yaml:"distance_factor"`
	TimeFactor     vehicle.Decimal `yaml:"time_factor"`
}

type yamlStart struct {
	Event          string `yaml:"event"`
	NotBefore      string `yaml:"not_before"`
	WithinDistance string `yaml:"within_distance"`
	WithinDays     int    `yaml:"within_days"`
}

type yamlMeasured struct {
	Characteristic string `yaml:"characteristic"`
	Unit           string `yaml:"unit"`
	Lower          string `yaml:"lower"`
	Upper          string `yaml:"upper"`
	Action         string `yaml:"action"`
	Method         string `yaml:"method"`
}

// place finds a word in a list whose places are the values of an enumeration.
func place[T ~uint8](t testing.TB, word string, words ...string) T {
	for i, w := range words {
		if w == word {
			return T(i)
		}
	}
	t.Fatalf("no such word: %q", word)
	return 0
}

func entered(t testing.TB, text string) vehicle.Entered {
	if text == "" {
		return vehicle.Entered{}
	}
	number, unit, _ := strings.Cut(text, " ")
	value, err := vehicle.ParseDecimal(number)
	if err != nil {
		t.Fatal(err)
	}
	u, err := vehicle.ParseUnit(unit)
	if err != nil {
		t.Fatal(err)
	}
	return vehicle.Entered{Value: value, Unit: u}
}

func decimal(t testing.TB, text string) *vehicle.Decimal {
	if text == "" {
		return nil
	}
	d, err := vehicle.ParseDecimal(text)
	if err != nil {
		t.Fatal(err)
	}
	return &d
}

func (y *yamlItem) item(t testing.TB) schedule.Item {
	it := schedule.Item{
		ID: y.ID, Title: y.Title, Group: y.Group, AppliesWhen: y.AppliesWhen, Position: y.Position,
		First:     schedule.Limit{Distance: entered(t, y.First.Distance), Months: y.First.Months},
		FirstFrom: place[schedule.CountedFrom](t, y.FirstFrom, "", "fitting", "delivery"),
		Every:     schedule.Limit{Distance: entered(t, y.Every.Distance), Months: y.Every.Months},
		Severe:    schedule.Severe{DistanceFactor: y.Severe.DistanceFactor, TimeFactor: y.Severe.TimeFactor},
		Resets:    y.Resets, Tools: y.Tools, Caution: y.Caution, DocRef: y.DocRef, SourceMark: y.SourceMark,
		LayUp:      place[schedule.LayUpRule](t, y.LayUp, "", "before", "recommission", "stays", "only"),
		Class:      place[schedule.ItemClass](t, y.Class, "", "routine", "safety", "settling", "seasonal"),
		NoticeDays: y.NoticeDays, Why: y.Why, OwnerCheck: y.OwnerCheck, KeepCalendarDays: y.Keep,
	}
	for _, w := range y.Severe.When {
		it.Severe.When = append(it.Severe.When, place[schedule.UseKind](t, w, "", "salt_coast", "dust", "wading",
			"towing", "short_trips", "humid"))
	}
	for _, s := range y.StartsOn {
		it.StartsOn = append(it.StartsOn, schedule.EventStart{
			Event: place[schedule.EventKind](t, s.Event, "", "wheel_refitted", "wading", "salt", "wading_plug_fitted",
				"head_gasket", "road_speed_change", "tyres_let_down", "hard_winching", "lay_up", "recommission"),
			NotBefore: entered(t, s.NotBefore), WithinDistance: entered(t, s.WithinDistance), WithinDays: s.WithinDays,
		})
	}
	for _, m := range y.Measured {
		it.Measured = append(it.Measured, schedule.MeasuredLimit{Characteristic: m.Characteristic, Unit: m.Unit,
			Lower: decimal(t, m.Lower), Upper: decimal(t, m.Upper), Action: decimal(t, m.Action), Method: m.Method})
	}
	if y.Fluid.Fluid != "" {
		q, err := vehicle.ParseQuantity(y.Fluid.Quantity)
		if err != nil {
			t.Fatal(err)
		}
		it.Fluid = schedule.FluidNeed{Fluid: y.Fluid.Fluid, Quantity: q, NeverMix: y.Fluid.NeverMix}
	}
	for _, p := range y.Parts {
		it.Parts = append(it.Parts, schedule.PartNeed{Position: p.Position, Quantity: p.Quantity, IfNeeded: p.IfNeeded})
	}
	return it
}

// sample reads a version of the demo's programme.
func sample(t testing.TB, version int) *schedule.Programme {
	t.Helper()
	text, err := os.ReadFile("../../testdata/aldermoor/programmes/packhorse.v" + strconv.Itoa(version) + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	var y yamlProgramme
	d := yaml.NewDecoder(bytes.NewReader(text))
	d.KnownFields(true)
	if err := d.Decode(&y); err != nil {
		t.Fatal(err)
	}
	if want := "programmes/packhorse/versions/" + strconv.Itoa(version); y.Name != want {
		t.Fatalf("the file is of %s, want %s", y.Name, want)
	}
	p := &schedule.Programme{ID: "packhorse", Version: version, Title: y.Title, Effective: y.Effective, Sample: y.Sample}
	p.Visits = schedule.VisitRules{VisitCost: y.Visits.VisitCost, ItemCost: y.Visits.ItemCost,
		Together: pairsOf(y.Visits.Together), Apart: pairsOf(y.Visits.Apart)}
	for i := range y.Items {
		p.Items = append(p.Items, y.Items[i].item(t))
	}
	return p
}

// compiled makes a programme ready, or fails the test.
func compiled(t testing.TB, p *schedule.Programme) *schedule.Plan {
	t.Helper()
	c, err := predicate.NewCompiler()
	if err != nil {
		t.Fatal(err)
	}
	plan, err := schedule.Compile(p, c)
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

// everything is a Packhorse with all that POSITIONS.md knows of on it.
func everything() vehicle.Makeup {
	return vehicle.Makeup{
		Release: "R3", Options: []string{"winch", "wading-kit"}, Wheelbase: "short", Market: "GB",
		Fitted: map[string][]string{
			"engine": {"adjustable-tappets"}, "oil-filter": {"spin-on"}, "air-cleaner": {"oil-bath"},
			"cylinder-head": {"retorque-gasket"}, "distributor": {"contact-breaker"}, "spark-plugs": nil, "fan-belt": nil,
			"cooling-system": {"coolant-inorganic"}, "coolant-hoses": nil, "carburettor": {"damper"},
			"fuel-system": {"sediment-bowl"}, "fuel-hoses": {"rubber"}, "exhaust": nil, "clutch": {"hydraulic"},
			"gearbox": {"synchro-3-4"}, "transfer-case": {"shimmed-output-bearing", "parking-brake"},
			"output-shaft-bearing": {"shimmed"}, "parking-brake": nil,
			"propshaft-front": {"greaseable"}, "propshaft-rear": {"greaseable"},
			"front-axle-differential": {"open"}, "rear-axle-differential": {"limited-slip"}, "axle-breathers": {"extended"},
			"swivel-housing-left": {"oil-filled"}, "swivel-housing-right": {"oil-filled"},
			"swivel-pin-left": {"shimmed"}, "swivel-pin-right": {"shimmed"},
			"hub-front-left": nil, "hub-front-right": nil, "hub-rear-left": nil, "hub-rear-right": nil,
			"free-wheel-hubs": {"manual"}, "brakes-front": {"drum"}, "brakes-rear": {"drum"},
			"brake-hydraulics": {"glycol-dot4"}, "brake-servo": nil, "steering-box": {"oil-filled"},
			"steering-linkage": {"greaseable"}, "steering-damper": nil, "shock-absorbers": nil, "springs": {"rubber-bushes"},
			"chassis": nil, "body": nil, "wheels": nil, "tyres": nil, "battery": {"agm"}, "alternator": nil,
			"starter": nil, "lamps": nil, "wipers": nil, "seat-belts": nil, "speedometer": nil,
			"winch": {"electric", "wire"}, "soft-top": nil,
		},
	}
}

func TestTheSampleProgrammesAreRightAndAnswerForEveryConfiguration(t *testing.T) {
	bare := vehicle.Makeup{Release: "R1", Fitted: map[string][]string{}}
	other := everything()
	other.Fitted["air-cleaner"] = []string{"paper-element"}
	other.Fitted["brakes-front"] = []string{"disc"}
	other.Fitted["brake-hydraulics"] = []string{"silicone-dot5"}
	other.Fitted["swivel-housing-left"] = []string{"grease-filled"}
	other.Fitted["swivel-housing-right"] = []string{"grease-filled"}
	other.Fitted["cooling-system"] = []string{"coolant-organic-acid"}
	delete(other.Fitted, "winch")
	for version := 1; version <= 2; version++ {
		plan := compiled(t, sample(t, version))
		for name, c := range map[string]vehicle.Makeup{"all": everything(), "other": other, "bare": bare} {
			on, err := plan.Applicable(c)
			if err != nil {
				t.Errorf("version %d, %s: %v", version, name, err)
			}
			if name != "bare" && len(on) < 70 {
				t.Errorf("version %d, %s: only %d items apply", version, name, len(on))
			}
		}
	}
}

// rows are the tasks of tasks.md A and C; B is in their starts_on.
const rows = "E01 E02 E03 E04 E05 E06 E07 E08 E09 E10 E11 E12 E13 E14 C01 G01 T01 T02 T03 T04 T05 P01 D01 D02 D03 D04 D05 " +
	"S01 S02 S03 S04 S05 S06 B01 B02 B03 B04 B05 R01 R02 R03 R04 R05 L01 L02 W01 W02 W03 W04 W05 X01 X02 X03 X04 " +
	"K01 K02 K03 K04 Z01 Z02 Z03"

func TestEveryRowOfTheTaskListIsInTheSampleProgramme(t *testing.T) {
	p := sample(t, 1)
	for _, row := range strings.Fields(rows) {
		found := false
		for i := range p.Items {
			found = found || strings.HasPrefix(p.Items[i].ID, row)
		}
		if !found {
			t.Errorf("row %s is missing", row)
		}
	}
	for i := range p.Items {
		if it := &p.Items[i]; it.Why == "" || it.SourceMark == "" || it.DocRef == "" {
			t.Errorf("%s has no reason, source mark or reference", it.ID)
		}
	}
	started := map[schedule.EventKind]bool{}
	for i := range p.Items {
		for _, s := range p.Items[i].StartsOn {
			started[s.Event] = true
		}
	}
	for k := schedule.WheelRefitted; k <= schedule.Recommission; k++ {
		if !started[k] {
			t.Errorf("nothing is started by %s", k.Words())
		}
	}
}
