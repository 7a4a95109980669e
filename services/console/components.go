package console

import (
	"context"
	"strconv"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Components prints how far each component of a vehicle has gone, here and
// before it came here, by a date (today, when on is zero).
func (c *Console) Components(ctx context.Context, serial string, on vehicle.Date) error {
	name, unit, err := c.openWithDial(ctx, serial)
	if err != nil {
		return err
	}
	all, err := page.All(func(token string) ([]*schedulev1.ComponentDistance, string, error) {
		r, err := c.Schedules.ListComponentDistances(ctx, &schedulev1.ListComponentDistancesRequest{
			Parent: "vehicles/" + serialOf(name), OnDate: vehiclewire.DateProto(on), PageSize: 500, PageToken: token,
		})
		return r.GetComponentDistances(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) { componentsText(s, serialOf(name), all, unit) })
}

// componentsText is a table in which those that share one life are one line: of
// fifty positions most have been on the vehicle since it was built. Beneath it
// stands a sentence for each that came from elsewhere or was overhauled.
func componentsText(s *sheet, serial string, all []*schedulev1.ComponentDistance, unit string) {
	if len(all) == 0 {
		s.line("%s: nothing is fitted on that day.", serial)
		return
	}
	s.line("%s: how far its components have gone", serial)
	var lives []string
	positions := map[string][]string{}
	for _, c := range all {
		life := strings.Join([]string{day(c.GetFittedDate()), plural(int(c.GetDays()), "day", "days"),
			distance(c.GetDistance(), unit), distance(c.GetTotalDistance(), unit) + " in all"}, "\t")
		if positions[life] == nil {
			lives = append(lives, life)
		}
		positions[life] = append(positions[life], c.GetPosition())
	}
	var rows [][]string
	for _, life := range lives {
		who := strings.Join(positions[life], ", ")
		if n := len(positions[life]); n > fewComponents {
			who = strconv.Itoa(n) + " components"
		}
		rows = append(rows, append([]string{who}, strings.Split(life, "\t")...))
	}
	s.table("  ", rows)
	for _, c := range all {
		if c.GetOverhaulDate() != nil || c.GetCameFrom() != "" || c.GetPriorDistance().GetMillimetres() > 0 {
			s.text("  "+c.GetPosition()+": ", c.GetSentence())
		}
	}
}

// fewComponents is how many that share one life are named; of more it is said
// how many there are.
const fewComponents = 3
