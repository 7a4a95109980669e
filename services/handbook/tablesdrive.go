package handbook

import (
	"fmt"
	"strings"

	"halfshaft/services/vehicle"
)

// engineSpeeds are the rows of the table of road speeds, in turns a minute.
var engineSpeeds = []int{1000, 1500, 2000, 2500, 3000, 3500, 4000}

// roadSpeeds is the speed in each gear for engine speeds.
func (r *Record) roadSpeeds() (*Table, string) {
	if len(r.Drive.Speeds) == 0 {
		return nil, r.driveMissing()
	}
	unit := speedUnit(r.Drive.Unit)
	t := &Table{Columns: []Column{{Head: "rev/min", Weight: 1.6, Right: true}}}
	for g := range r.Drive.Gears {
		t.Columns = append(t.Columns, Column{Head: ordinal(g + 1), Right: true})
	}
	for _, low := range []bool{false, true} {
		of := map[int]float64{}
		for _, s := range r.Drive.Speeds {
			if s.Low == low {
				of[s.Gear] = s.PerThousand
			}
		}
		if len(of) == 0 {
			continue
		}
		g := Group{Title: "High range, " + unit}
		if low {
			g.Title = "Low range, " + unit
		}
		for _, rpm := range engineSpeeds {
			texts := []string{fmt.Sprintf("%d,%03d", rpm/1000, rpm%1000)}
			for gear := range r.Drive.Gears {
				texts = append(texts, speedText(of[gear+1]*float64(rpm)/1000))
			}
			g.Rows = append(g.Rows, rowOf(texts...))
		}
		t.Groups = append(t.Groups, g)
	}
	t.Note = r.driveNote()
	return t, ""
}

// speedText is a speed to the whole unit, and to a tenth below ten, where it
// matters.
func speedText(v float64) string {
	if v < 9.95 {
		return fmt.Sprintf("%.1f", v)
	}
	return fmt.Sprintf("%.0f", v)
}

func (r *Record) driveMissing() string {
	if len(r.Drive.Missing) > 0 {
		return strings.Join(r.Drive.Missing, " ")
	}
	return "the drive line is not on record"
}

func (r *Record) driveNote() string {
	notes := []string{fmt.Sprintf("On new tyres %s, axle ratio %s.", strings.TrimSpace(r.Drive.TyreSize+" "+r.Drive.Tread), r.Drive.Axle)}
	if r.Drive.Estimated {
		notes = append(notes, "The tyre’s circumference is worked out from its size.")
	}
	if r.Drive.Sample {
		notes = append(notes, sampleNote)
	}
	return strings.Join(notes, " ")
}

// indicatedSpeeds is what the dial shows at true speeds, in one row below them.
func (r *Record) indicatedSpeeds() (*Table, string) {
	if len(r.Drive.Dial) == 0 {
		return nil, r.driveMissing()
	}
	t := &Table{Columns: []Column{{Head: "True, " + speedUnit(r.Drive.Unit), Weight: 1.6}}, Note: r.driveNote(), Dense: true}
	texts := []string{"Shown"}
	for _, s := range r.dialSpeeds() {
		t.Columns = append(t.Columns, Column{Head: fmt.Sprintf("%.0f", r.inUnit(s.True)), Right: true})
		texts = append(texts, fmt.Sprintf("%.0f", r.inUnit(s.Shown)))
	}
	t.Groups = []Group{{Rows: []Row{rowOf(texts...)}}}
	return t, ""
}

// mostSpeeds is how many speeds a row of them has: more are not legible.
const mostSpeeds = 9

// dialSpeeds are those of the table: where there are too many, every second.
func (r *Record) dialSpeeds() []DialSpeed {
	all := r.Drive.Dial
	for len(all) > mostSpeeds {
		var half []DialSpeed
		for i := 1; i < len(all); i += 2 {
			half = append(half, all[i])
		}
		all = half
	}
	return all
}

// inUnit brings km/h to the dial's unit.
func (r *Record) inUnit(kmh float64) float64 {
	if r.Drive.Unit == vehicle.Kilometres {
		return kmh
	}
	return kmh / kilometresInMile
}

// kilometresInMile is exact (NIST SP 811, Appendix B).
const kilometresInMile = 1.609344

// Picture implements Values.
func (r *Record) Picture(asked PictureAsked) (*Picture, string) {
	p := &Picture{Kind: asked.Kind, Caption: asked.Caption, Vehicle: string(r.Serial), Unit: string(r.Drive.Unit)}
	switch asked.Kind {
	case RoadSpeedPicture:
		scale := 1.0
		if r.Drive.Unit != vehicle.Kilometres {
			scale = kilometresInMile
		}
		for _, s := range r.Drive.Speeds {
			p.Gears = append(p.Gears, PictureGear{Gear: s.Gear, Low: s.Low, PerThousand: s.PerThousand * scale})
		}
		if len(p.Gears) == 0 {
			return nil, r.driveMissing()
		}
	case IndicatedSpeedPicture:
		if p.Dial = r.Drive.Dial; len(p.Dial) == 0 {
			return nil, r.driveMissing()
		}
	case GearLeverPicture:
		if len(r.Drive.Gears) != 4 && len(r.Drive.Gears) != 5 {
			return nil, fmt.Sprintf("a gearbox with %d gears", len(r.Drive.Gears))
		}
		for g := range r.Drive.Gears {
			p.Gears = append(p.Gears, PictureGear{Gear: g + 1})
		}
		p.Low = r.Drive.Low != ""
		for _, f := range r.Fitted {
			if f.Position != "gearbox" {
				continue
			}
			for _, trait := range f.Traits {
				if trait == "synchro-3-4" {
					p.Unsynced = []int{1, 2}
				}
			}
		}
	default:
		return nil, "there is no such picture"
	}
	return p, ""
}

func (r *Record) odometer() (*Table, string) {
	if r.Dial.Digits == 0 {
		return nil, "no odometer is on record"
	}
	unit := "miles"
	if r.Dial.Unit == vehicle.Kilometres {
		unit = "kilometres"
	}
	t := &Table{Columns: []Column{{Head: "Day", Weight: 1.4}, {Head: "The odometer showed", Right: true}, {Head: "Truly driven", Right: true}}}
	rows := Group{}
	for _, one := range r.Readings {
		rows.Rows = append(rows.Rows, rowOf(dateText(one.On), one.Value, one.True))
	}
	if len(rows.Rows) == 0 {
		rows.Rows = []Row{rowOf("No reading is on record yet", "", "")}
	}
	t.Groups = []Group{rows}
	t.Note = fmt.Sprintf("The odometer counts %s in %d figures and begins again at 0 after them.", unit, r.Dial.Digits)
	if r.Factor > 0 {
		t.Note += fmt.Sprintf(" Where it shows 100 %s, the vehicle has truly gone %.1f.", unit, float64(r.Factor)/10_000)
	}
	return t, ""
}
