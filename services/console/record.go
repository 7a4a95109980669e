package console

import (
	"context"
	"regexp"
	"strings"
	"time"

	"github.com/google/uuid"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Reading is an odometer reading as typed on the command line.
type Reading struct {
	Value  string // "12345" or "12345.6 mi"; without a unit, that of the vehicle's dial
	On     vehicle.Date
	Source string // owner, dealer, works or inspection
	Note   string
}

// RecordReading records an odometer reading and prints what became of it.
func (c *Console) RecordReading(ctx context.Context, serial string, r Reading) error {
	name, unit, err := c.openWithDial(ctx, serial)
	if err != nil {
		return err
	}
	value, err := odometer("value", r.Value, unit)
	if err != nil {
		return err
	}
	source, ok := schedulev1.ReadingSource_value["READING_SOURCE_"+strings.ToUpper(r.Source)]
	if !ok {
		return fault.InvalidField("source", r.Source, "owner, dealer, works or inspection")
	}
	made, err := c.Schedules.RecordReading(ctx, &schedulev1.RecordReadingRequest{
		Parent: "vehicles/" + serialOf(name), RequestId: uuid.NewString(),
		Reading: &schedulev1.Reading{
			ReadingDate: vehiclewire.DateProto(r.On), Value: value, Source: schedulev1.ReadingSource(source), Note: r.Note,
		},
	})
	if err != nil {
		return err
	}
	return c.print(made, func(s *sheet) { readingText(s, made, unit) })
}

// openWithDial is open that also tells the unit which the vehicle's dial
// counts.
func (c *Console) openWithDial(ctx context.Context, serial string) (name, unit string, err error) {
	if name, err = c.open(ctx, serial); err != nil {
		return "", "", err
	}
	unit, err = c.dialUnit(ctx, serialOf(name))
	return name, unit, err
}

// dialUnit tells the unit which a vehicle's dial counts.
func (c *Console) dialUnit(ctx context.Context, serial string) (string, error) {
	x, err := c.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: "vehicles/" + serial + "/schedule"})
	return x.GetPace().GetUnit(), err
}

// odometer reads digits with or without a unit.
var grouped = regexp.MustCompile(`^[0-9]{1,3}(,[0-9]{3})+(\.[0-9]+)?$`)

func odometer(field, text, unit string) (*vehiclev1.Distance, error) {
	if text == "" {
		return nil, nil
	}
	digits, said, _ := strings.Cut(strings.TrimSpace(text), " ")
	if grouped.MatchString(digits) {
		digits = strings.ReplaceAll(digits, ",", "") // as we print it
	}
	if said == "" {
		said = unit
	}
	u, err := vehicle.ParseUnit(strings.TrimSpace(said))
	if err != nil {
		return nil, fault.Under(field, err)
	}
	value, err := vehicle.ParseDecimal(digits)
	if err != nil {
		return nil, fault.Under(field, err)
	}
	return vehiclewire.EnteredProto(vehicle.Entered{Value: value, Unit: u}), nil
}

// Event is something that happened in use, as typed on the command line.
type Event struct {
	Kind    string // "wading", "wheel-refitted", …
	On      vehicle.Date
	Reading string
	Note    string
}

// RecordEvent records something that may start items.
func (c *Console) RecordEvent(ctx context.Context, serial string, e Event) error {
	name, unit, err := c.openWithDial(ctx, serial)
	if err != nil {
		return err
	}
	reading, err := odometer("reading", e.Reading, unit)
	if err != nil {
		return err
	}
	kind, ok := schedulev1.EventKind_value["EVENT_KIND_"+strings.ToUpper(strings.ReplaceAll(e.Kind, "-", "_"))]
	if !ok || kind == 0 {
		return fault.InvalidField("kind", e.Kind, kinds(schedulev1.EventKind_name, "EVENT_KIND_"))
	}
	made, err := c.Schedules.RecordEvent(ctx, &schedulev1.RecordEventRequest{
		Parent: "vehicles/" + serialOf(name), RequestId: uuid.NewString(),
		Event: &schedulev1.Event{Kind: schedulev1.EventKind(kind), EventDate: vehiclewire.DateProto(e.On), Reading: reading, Note: e.Note},
	})
	if err != nil {
		return err
	}
	return c.print(made, func(s *sheet) {
		s.line("%s: %s on %s, recorded as %s", serialOf(made.GetName()), word(made.GetKind(), "EVENT_KIND_"), day(made.GetEventDate()), made.GetName())
	})
}

// Use is a statement about how a vehicle lives, as typed on the command line.
type Use struct {
	Kind     string // "laid-up", "salt-coast", …
	From, To vehicle.Date
	// FirstMonth and LastMonth are those of the season, for "seasonal".
	FirstMonth, LastMonth int
	Note                  string
}

// DeclareUse states how a vehicle lives.
func (c *Console) DeclareUse(ctx context.Context, serial string, u Use) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	kind, ok := schedulev1.UseKind_value["USE_KIND_"+strings.ToUpper(strings.ReplaceAll(u.Kind, "-", "_"))]
	if !ok || kind == 0 {
		return fault.InvalidField("kind", u.Kind, kinds(schedulev1.UseKind_name, "USE_KIND_"))
	}
	made, err := c.Schedules.DeclareUse(ctx, &schedulev1.DeclareUseRequest{
		Parent: "vehicles/" + serialOf(name), RequestId: uuid.NewString(),
		UseFact: &schedulev1.UseFact{Kind: schedulev1.UseKind(kind), StartDate: vehiclewire.DateProto(u.From), EndDate: vehiclewire.DateProto(u.To),
			FirstMonth: int32(u.FirstMonth), LastMonth: int32(u.LastMonth), Note: u.Note},
	})
	if err != nil {
		return err
	}
	return c.print(made, func(s *sheet) {
		until := "until further notice"
		if d := day(made.GetEndDate()); d != "" {
			until = "until " + d
		}
		what := word(made.GetKind(), "USE_KIND_")
		if made.GetFirstMonth() > 0 {
			what += ", " + time.Month(made.GetFirstMonth()).String() + " to " + time.Month(made.GetLastMonth()).String() + ","
		}
		s.line("%s: %s from %s %s, recorded as %s", serialOf(made.GetName()), what, day(made.GetStartDate()), until, made.GetName())
	})
}

// kinds lists the words of an enum, as they are typed.
func kinds(names map[int32]string, prefix string) string {
	var all []string
	for n := int32(1); names[n] != ""; n++ {
		all = append(all, strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(names[n], prefix), "_", "-")))
	}
	return strings.Join(all, ", ")
}

// readings lists the readings of "vehicles/AM0147P", or the doubtful ones of
// "vehicles/-".
func (c *Console) readings(ctx context.Context, parent string) ([]*schedulev1.Reading, error) {
	return page.All(func(token string) ([]*schedulev1.Reading, string, error) {
		r, err := c.Schedules.ListReadings(ctx, &schedulev1.ListReadingsRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetReadings(), r.GetNextPageToken(), err
	})
}

// Readings prints the readings of a vehicle; "-" prints the doubtful ones of
// all.
func (c *Console) Readings(ctx context.Context, serial string) error {
	parent, unit := "vehicles/-", "mi"
	if serial != "-" {
		name, dial, err := c.openWithDial(ctx, serial)
		if err != nil {
			return err
		}
		parent, unit = "vehicles/"+serialOf(name), dial
	}
	readings, err := c.readings(ctx, parent)
	if err != nil {
		return err
	}
	return printAll(c, readings, func(s *sheet) {
		for _, r := range readings {
			readingText(s, r, unit)
		}
		if len(readings) == 0 {
			s.line("No reading waits for a decision.")
		}
	})
}

// Settle records a person's decision about a doubtful reading.
func (c *Console) Settle(ctx context.Context, name, verdict, corrected, reason string) error {
	kind, ok := schedulev1.Verdict_value["VERDICT_"+strings.ToUpper(strings.ReplaceAll(verdict, "-", "_"))]
	if !ok || kind == 0 {
		return fault.InvalidField("verdict", verdict, kinds(schedulev1.Verdict_name, "VERDICT_"))
	}
	unit, err := c.dialUnit(ctx, serialOf(name))
	if err != nil {
		return err
	}
	value, err := odometer("corrected", corrected, unit)
	if err != nil {
		return err
	}
	readings, err := c.readings(ctx, "vehicles/"+serialOf(name))
	if err != nil {
		return err
	}
	etag := ""
	for _, r := range readings {
		if r.GetName() == name {
			etag = r.GetEtag()
		}
	}
	made, err := c.Schedules.SettleReading(ctx, &schedulev1.SettleReadingRequest{
		Name: name, Etag: etag, RequestId: uuid.NewString(),
		Settlement: &schedulev1.Settlement{Verdict: schedulev1.Verdict(kind), Corrected: value, Reason: reason},
	})
	if err != nil {
		return err
	}
	return c.print(made, func(s *sheet) { readingText(s, made, unit) })
}
