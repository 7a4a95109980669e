package desk

import (
	"fmt"
	"math"
	"net/http"
	"strconv"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/internal/figure"
	"halfshaft/services/vehicle"
)

// kilometresInMile is exact (NIST SP 811, Appendix B).
const kilometresInMile = 1.609344

// Engine speeds that the picture of road speeds shows, in turns a minute.
const fromRPM, toRPM = 800, 4000

// showSpeed answers what owners ask after other tyres: what the speedometer
// shows at true speeds, and how fast the vehicle is in each gear.
func (v *visit) showSpeed() {
	d, err := v.d.Builds.GetDriveLine(v.as(), &buildv1.GetDriveLineRequest{Name: "builds/" + v.r.PathValue("serial") + "/driveLine"})
	if err != nil {
		v.refuse(err)
		return
	}
	blocks := []block{v.dialBlock(d)}
	if b := adviceBlock(d.GetAdvice()); b != nil {
		blocks = append(blocks, *b)
	}
	blocks = append(blocks, v.gearsBlock(d))
	why := block{Heading: "What it rests on"}
	for _, r := range d.GetReasons() {
		why.Text = append(why.Text, r.GetSentence())
	}
	if d.GetSample() {
		why.Text = append(why.Text, "The ratios are samples, to be signed by the works' engineer.")
	}
	if len(why.Text) > 0 {
		blocks = append(blocks, why)
	}
	v.ofVehicle(http.StatusOK, "speed", blocks...)
}

// speedReader writes speeds in the unit of the vehicle's dial; scale takes one of
// them to km/h.
func speedReader(d *buildv1.VehicleDriveLine) (r figure.Reader, scale float64) {
	if d.GetSpeedUnit() == "km/h" {
		return figure.Reader{Language: "en", Unit: vehicle.Kilometres}, 1
	}
	return figure.Reader{Language: "en", Unit: vehicle.Miles}, kilometresInMile
}

func (v *visit) dialBlock(d *buildv1.VehicleDriveLine) block {
	b := block{Heading: "Speedometer"}
	for _, m := range d.GetMissing() {
		b.Text = append(b.Text, "Not known: "+m.GetSentence())
	}
	dial := d.GetSpeedometer()
	if dial == nil {
		return b
	}
	high := dial.GetReadsHighPercent()
	switch tenth := math.Round(math.Abs(high)*10) / 10; {
	case tenth == 0:
		b.Text = append(b.Text, "It shows the true speed.")
	case high > 0:
		b.Text = append(b.Text, fmt.Sprintf("It reads %.1f %% high.", tenth))
	default:
		b.Text = append(b.Text, fmt.Sprintf("It reads %.1f %% low: the vehicle is faster than the dial says.", tenth))
	}
	b.Text = append(b.Text, fmt.Sprintf("Of a distance that the odometer shows, %.1f %% is true; the schedule counts with that.", dial.GetOdometerFactorPercent()))
	r, scale := speedReader(d)
	s := figure.Speedometer{Vehicle: v.r.PathValue("serial"), Curves: []figure.SpeedCurve{{Name: "now"}}}
	for _, x := range dial.GetDialSpeeds() {
		s.Curves[0].Points = append(s.Curves[0].Points, figure.SpeedPoint{True: x.GetSpeed() * scale, Shown: x.GetIndicatedSpeed() * scale})
	}
	b.Drawing = figure.Block("speedometer", r, func(l figure.Layout) figure.Figure { return s.Figure(r, l) })
	return b
}

// adviceBlock says which drive gears would put the dial right.
func adviceBlock(a *buildv1.SpeedometerAdvice) *block {
	if a == nil {
		return nil
	}
	b := &block{Heading: "What would put it right"}
	for _, r := range a.GetReasons() {
		b.Text = append(b.Text, r.GetSentence())
	}
	if len(a.GetPairs()) > 0 {
		b.Table = &table{Caption: "Drive gears that may be fitted", Heads: []string{"Driver and driven", "The dial then reads", "Within the rule"}}
		for _, p := range a.GetPairs() {
			within := "no"
			if p.GetInBand() {
				within = "yes"
				if !p.GetSurelyInBand() {
					within = "perhaps: the tyre is not known well enough"
				}
			}
			b.Table.Rows = append(b.Table.Rows, []cell{
				{Text: fmt.Sprintf("%d and %d teeth", p.GetDrive().GetDriverTeeth(), p.GetDrive().GetDrivenTeeth())},
				{Text: fmt.Sprintf("%+.1f %%", p.GetReadsHighPercent())}, {Text: within},
			})
		}
	}
	if a.GetCaution() != "" {
		b.List = []entry{{Mark: "Caution", Text: a.GetCaution()}}
	}
	return b
}

func (v *visit) gearsBlock(d *buildv1.VehicleDriveLine) block {
	b := block{Heading: "Road speed in each gear"}
	if len(d.GetRoadSpeeds()) == 0 {
		b.Text = []string{"The ratios of it are not all on record."}
		return b
	}
	r, scale := speedReader(d)
	g := figure.RoadSpeeds{Vehicle: v.r.PathValue("serial"), From: fromRPM, To: toRPM}
	for _, x := range d.GetRoadSpeeds() {
		one := figure.Gear{Name: ordinal(int(x.GetGear())) + ", " + x.GetRange(), Speed: x.GetSpeedPerThousandRpm() * scale}
		if x.GetRange() == "low" {
			one.Range = 1
		}
		g.Gears = append(g.Gears, one)
	}
	b.Drawing = figure.Block("gears", r, func(l figure.Layout) figure.Figure { return g.Figure(r, l) })
	return b
}

// ordinal names a gear: "1st".
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
