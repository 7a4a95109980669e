package console

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// Speed prints how fast a vehicle goes in each gear, what its speedometer makes
// of it, and what would put that right. rpm is the engine speed to answer for;
// 0 means the standard one.
func (c *Console) Speed(ctx context.Context, serial string, on vehicle.Date, rpm int32) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	d, err := c.Builds.GetDriveLine(ctx, &buildv1.GetDriveLineRequest{
		Name: name + "/driveLine", OnDate: vehiclewire.DateProto(on), EngineSpeedRpm: rpm,
	})
	if err != nil {
		return err
	}
	return c.print(d, func(s *sheet) { speedText(s, d) })
}

func speedText(s *sheet, d *buildv1.VehicleDriveLine) {
	s.line("%s on %s", serialOf(d.GetName()), day(d.GetOnDate()))
	if d.GetSample() {
		s.line("  ratios  sample, to be signed by the works' engineer")
	}
	for _, r := range d.GetMissing() {
		s.text("  not known: ", r.GetSentence())
	}
	roadSpeeds(s, d)
	dialSpeeds(s, d)
	if a := d.GetAdvice(); a != nil {
		speedometerAdvice(s, a)
		recordGears(s, d)
	}
	s.heading("Why")
	for _, r := range d.GetReasons() {
		s.text("  ", r.GetSentence())
	}
}

// roadSpeeds has a row for each gear, with both ranges beside each other.
func roadSpeeds(s *sheet, d *buildv1.VehicleDriveLine) {
	if len(d.GetRoadSpeeds()) == 0 {
		return
	}
	s.heading("Road speed in %s, on new tyres", d.GetSpeedUnit())
	rpm := wording.Grouped(strconv.Itoa(int(d.GetEngineSpeedRpm())))
	head := []string{"gear"}
	var ranges []string
	rows := make([][]string, len(d.GetGears()))
	for _, g := range d.GetRoadSpeeds() {
		if len(ranges) == 0 || ranges[len(ranges)-1] != g.GetRange() {
			ranges = append(ranges, g.GetRange())
			head = append(head, g.GetRange()+", 1,000 rev/min", rpm+" rev/min")
		}
		i := g.GetGear() - 1
		if rows[i] == nil {
			rows[i] = []string{strconv.Itoa(int(g.GetGear()))}
		}
		rows[i] = append(rows[i], fmt.Sprintf("%.1f", g.GetSpeedPerThousandRpm()), fmt.Sprintf("%.1f", g.GetSpeedAtEngineSpeed()))
	}
	s.table("  ", append([][]string{head}, rows...))
}

func dialSpeeds(s *sheet, d *buildv1.VehicleDriveLine) {
	p := d.GetSpeedometer()
	if p == nil {
		return
	}
	s.heading("The speedometer, in %s", d.GetSpeedUnit())
	rows := [][]string{{"speed", "when true, the dial reads", "when the dial reads it, true is"}}
	for _, v := range p.GetDialSpeeds() {
		rows = append(rows, []string{
			fmt.Sprintf("%.0f", v.GetSpeed()), fmt.Sprintf("%.1f", v.GetIndicatedSpeed()), fmt.Sprintf("%.1f", v.GetTrueSpeed()),
		})
	}
	s.table("  ", rows)
	s.line("  odometer factor %.2f %%: so much of a shown distance is true", p.GetOdometerFactorPercent())
}

func speedometerAdvice(s *sheet, a *buildv1.SpeedometerAdvice) {
	s.heading("Advice")
	for _, r := range a.GetReasons() {
		s.text("  ", r.GetSentence())
	}
	if len(a.GetPairs()) > 0 {
		rows := [][]string{{"drive gears", "dial reads", "at a true 40, 80, 120 km/h"}}
		for _, f := range a.GetPairs() {
			rows = append(rows, []string{teeth(f.GetDrive()), fmt.Sprintf("%+.1f %%", f.GetReadsHighPercent()), shownAt(f)})
		}
		s.table("  ", rows)
	}
	s.text("  CAUTION ", a.GetCaution())
}

// recordGears says what to type once other drive gears are in, where others than
// those fitted are to be had.
func recordGears(s *sheet, d *buildv1.VehicleDriveLine) {
	for _, f := range d.GetAdvice().GetPairs() {
		if !proto.Equal(f.GetDrive(), d.GetAdvice().GetNow().GetDrive()) {
			s.text("  ", "Once other gears are in: halfshaft record change "+serialOf(d.GetName())+
				" speedometer-drive DRIVER:DRIVEN --source service --reason WHY --reading VALUE --on DAY")
			return
		}
	}
}

func teeth(d *vehiclev1.SpeedometerDrive) string {
	return fmt.Sprintf("%d/%d", d.GetDriverTeeth(), d.GetDrivenTeeth())
}

// shownAt is what the dial reads at the speeds of the law.
func shownAt(f *buildv1.DriveFit) string {
	var shown []string
	for _, b := range f.GetBand() {
		shown = append(shown, fmt.Sprintf("%.1f", b.GetIndicatedKmh()))
	}
	text := strings.Join(shown, ", ")
	if !f.GetSurelyInBand() {
		text += "; not surely within, as the tyre is uncertain"
	}
	return text
}
