package reminderrpc

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/vehicle"
)

// answersAfter gives up to limit answers behind a place, by vehicle and then as
// they were given.
func (s *Service) answersAfter(ctx context.Context, serial vehicle.Serial, after place, limit int) ([]reminderstore.KeptAnswer, error) {
	var out, of []reminderstore.KeptAnswer // of: those of one vehicle
	flush := func() {
		slices.SortFunc(of, func(a, b reminderstore.KeptAnswer) int { return placeOf(a.Answer).compare(placeOf(b.Answer)) })
		out, of = append(out, of...), nil
	}
	err := s.Store.EachAnswer(ctx, serial, after.serial, func(k reminderstore.KeptAnswer) (bool, error) {
		if len(of) > 0 && of[0].Serial != k.Serial {
			flush()
		}
		if placeOf(k.Answer).compare(after) > 0 {
			of = append(of, k)
		}
		return len(out) < limit, nil
	})
	flush()
	return out[:min(len(out), limit)], err
}

// place is where an answer stands in a list.
type place struct {
	serial vehicle.Serial
	at     time.Time
	id     string
}

func placeOf(a reminder.Answer) place { return place{a.Serial, a.Created, a.ID} }

func (p place) compare(other place) int {
	return cmp.Or(cmp.Compare(p.serial, other.serial), p.at.Compare(other.at), cmp.Compare(p.id, other.id))
}

func (p place) String() string { return fmt.Sprintf("%s/%d/%s", p.serial, p.at.UnixMicro(), p.id) }

// parsePlace reads what String wrote; nothing is before every answer.
func parsePlace(text string) (place, error) {
	if text == "" {
		return place{}, nil
	}
	parts := strings.SplitN(text, "/", 3)
	if len(parts) == 3 {
		if at, err := strconv.ParseInt(parts[1], 10, 64); err == nil {
			return place{vehicle.Serial(parts[0]), time.UnixMicro(at).UTC(), parts[2]}, nil
		}
	}
	return place{}, fault.InvalidField("page_token", text, "the next_page_token of the same request")
}
