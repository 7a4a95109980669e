package handbook

import (
	"fmt"
	"strconv"
	"strings"

	"halfshaft/services/vehicle"
)

// Record is what is on record of one vehicle, as plain values. It implements
// Values.
type Record struct {
	Serial     vehicle.Serial
	Release    string
	Options    []string // identifiers
	Wheelbase  string
	Market     string
	DonorYear  int
	Finish     string
	Built      vehicle.Date
	Delivered  vehicle.Date // zero while it is at the works
	Fitted     []FittedThing
	Settings   []Setting
	Fluids     []Fluid
	Drive      DriveLine
	Plan       []PlanItem
	PlanSample bool
	Services   []Service // the oldest first
	Measured   []Measured
	Dial       vehicle.Dial
	Factor     int64 // true over indicated, in parts per million; 0 when it is not known
	Readings   []Reading
	Cover      []Cover
	Works      ContactPlace
}

// ContactPlace is how the works is reached.
type ContactPlace struct {
	Name      string `json:"name,omitempty"`
	Address   string `json:"address,omitempty"`
	Telephone string `json:"telephone,omitempty"`
	Mail      string `json:"mail,omitempty"`
}

// FittedThing is what stands at a position, as far as a reader wants to know.
type FittedThing struct {
	Position string
	Traits   []string
	Standard bool // whether it is what the release and options call for
}

// Setting is a value that something is set to.
type Setting struct {
	Position, Characteristic, Subject string
	Unit, Lower, Target, Upper        string
	Window                            string // in the units of both habits, with what to aim at
	Method                            string
	Sample                            bool
}

// Fluid is what is filled in at a position.
type Fluid struct {
	Position, Fluid string
	Quantity        vehicle.Quantity // without a unit: not on record
	Method          string
	NeverMix        []string
	Sample          bool
}

// DriveLine is how the vehicle is geared.
type DriveLine struct {
	Gears     []string // ratios from first upwards
	High, Low string   // ratios of the transfer case; Low is empty where there is none
	Axle      string
	TyreSize  string
	Tread     string
	Drive     string // teeth, "5:15"
	Unit      vehicle.Unit
	Speeds    []GearSpeed
	Dial      []DialSpeed // in km/h
	ReadsHigh float64     // in per cent
	Estimated bool        // the circumference is not a published one
	Missing   []string    // sentences: what is not on record
	Sample    bool
}

// GearSpeed is the road speed in a gear.
type GearSpeed struct {
	Low         bool
	Gear        int
	PerThousand float64 // at 1,000 rev/min, in miles or kilometres an hour by the unit
}

// PlanItem is an item of the service programme that applies to the vehicle.
type PlanItem struct {
	ID, Title, Group string
	First, Every     string // in words: "3,000 miles or 12 months"
	OnEvents         []string
	OwnerCheck       bool
}

// Service is a service that is on record, without who did it.
type Service struct {
	On      vehicle.Date
	Reading string
	Done    []Job
	Stated  bool // by an owner, without a paper
}

// Job is an item that was done.
type Job struct{ Title string }

// Measured is a measured value: at the build, and last.
type Measured struct {
	Position, Characteristic string
	Built, Last              string // with units; empty for none
	LastOn                   vehicle.Date
	Window                   string
	Outside                  bool // the last one lies outside it
}

// Reading is an odometer reading that counts.
type Reading struct {
	On    vehicle.Date
	Value string
	True  string // the vehicle's true distance then
}

// Cover is a promise: what it is for (a position, or "vehicle"), what is
// promised, and until when or since when no more, in words.
type Cover struct {
	What, Promise, Until string
	Sample               bool
}

// Value implements Values.
func (r *Record) Value(a Ask) (Words, bool) {
	switch a.Name {
	case "serial":
		return said(string(r.Serial))
	case "release":
		return said(r.Release)
	case "works":
		return said(r.Works.Name)
	case "telephone":
		return said(r.Works.Telephone)
	case "mail":
		return said(r.Works.Mail)
	case "tyre":
		return said(strings.TrimSpace(r.Drive.TyreSize + " " + r.Drive.Tread))
	case "setting", "window":
		return r.setting(a)
	case "capacity":
		f, ok := r.fluid(a.Args[0])
		if !ok || f.Quantity.Unit == "" {
			return nil, false
		}
		return quantity(f.Quantity), true
	case "fluid":
		f, ok := r.fluid(a.Args[0])
		if !ok {
			return nil, false
		}
		return said(f.Fluid)
	case "every":
		for _, item := range r.Plan {
			if item.ID == a.Args[0] && item.Every != "" {
				return said(item.Every)
			}
		}
	case "speed":
		return r.speed(a)
	}
	return nil, false
}

// said is a value of words, which there is none of where they are empty.
func said(text string) (Words, bool) {
	if text == "" {
		return nil, false
	}
	return Said(text), true
}

// quantity is an amount, with the same in the other habit behind it.
func quantity(q vehicle.Quantity) Words {
	w := Words{{Kind: Value, Text: q.Value.String(), Unit: unitName(q.Unit)}}
	if other, ok := vehicle.CustomaryUnit(q.Unit); ok {
		if figures, ok := q.Figures(other); ok {
			w = append(w, Run{Text: " ("}, Run{Kind: Value, Text: figures, Unit: other}, Run{Text: ")"})
		}
	}
	return w
}

func unitName(unit string) string {
	if name, ok := vehicle.UnitName(unit); ok {
		return name
	}
	return unit
}

// setting is what to aim at, or the window; nothing where two rows answer.
func (r *Record) setting(a Ask) (Words, bool) {
	s, ok := r.settingOf(a.Args)
	if !ok {
		return nil, false
	}
	if a.Name == "window" || s.Target == "" {
		return said(s.Window)
	}
	value, err := vehicle.ParseDecimal(s.Target)
	if err != nil {
		return nil, false
	}
	return quantity(vehicle.Quantity{Value: value, Unit: s.Unit}), true
}

// settingOf finds a setting by position, characteristic and subject. Positions
// that share a beginning ("hub") are one where they have the same window.
func (r *Record) settingOf(args []string) (Setting, bool) {
	var found []Setting
	for _, s := range r.Settings {
		if s.Position == args[0] && s.Characteristic == args[1] && s.Subject == strings.Join(args[2:], " ") {
			found = append(found, s)
		}
	}
	if len(found) != 1 {
		return Setting{}, false
	}
	return found[0], true
}

func (r *Record) fluid(position string) (Fluid, bool) {
	var found []Fluid
	for _, f := range r.Fluids {
		if f.Position == position {
			found = append(found, f)
		}
	}
	if len(found) != 1 {
		return Fluid{}, false
	}
	return found[0], true
}

// speed is a road speed, to the whole mile or kilometre an hour.
func (r *Record) speed(a Ask) (Words, bool) {
	gear, low, rpm, ok := a.speed()
	if !ok {
		return nil, false
	}
	for _, s := range r.Drive.Speeds {
		if s.Gear == gear && s.Low == low && s.PerThousand > 0 {
			return Words{{Kind: Value, Text: fmt.Sprintf("%.0f", s.PerThousand*float64(rpm)/1000), Unit: speedUnit(r.Drive.Unit)}}, true
		}
	}
	return nil, false
}

func speedUnit(u vehicle.Unit) string {
	if u == vehicle.Kilometres {
		return "km/h"
	}
	return "mph"
}

// ordinal is a gear as people say it.
func ordinal(n int) string {
	switch n {
	case 1:
		return "1st"
	case 2:
		return "2nd"
	case 3:
		return "3rd"
	}
	return strconv.Itoa(n) + "th"
}
