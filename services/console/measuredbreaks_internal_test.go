package console

import (
	"testing"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

func TestABreakSaysWhichPackWentOutAndWhichIsIn(t *testing.T) {
	for _, c := range []struct{ name, before, after, want string }{
		{"both", "0.58 mm", "0.51 mm", "11 May 2022: the output shaft bearing was re-shimmed; pack 0.58 -> 0.51 mm"},
		{"nobody measured the old one", "", "0.51 mm", "11 May 2022: the output shaft bearing was re-shimmed; pack now 0.51 mm"},
		{"all shims were taken out", "0.13 mm", "0 mm", "11 May 2022: the output shaft bearing was re-shimmed; pack 0.13 -> 0 mm"},
		{"in two units", "23 thou", "0.51 mm", "11 May 2022: the output shaft bearing was re-shimmed; pack 23 thou -> 0.51 mm"},
		{"only the old one is on record", "0.58 mm", "", "11 May 2022: the output shaft bearing was re-shimmed; pack before 0.58 mm"},
		{"none", "", "", "11 May 2022: the output shaft bearing was re-shimmed"},
	} {
		b := &schedulev1.SeriesBreak{BreakDate: vehiclewire.DateProto(vehicle.MustDate(2022, 5, 11)), Text: "the output shaft bearing was re-shimmed"}
		for text, into := range map[string]**vehiclev1.Quantity{c.before: &b.PackBefore, c.after: &b.PackAfter} {
			if text == "" {
				continue
			}
			q, err := vehicle.ParseQuantity(text)
			if err != nil {
				t.Fatal(err)
			}
			*into = vehiclewire.QuantityProto(q)
		}
		if got := breakText(b); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}
