package console

import (
	"context"
	"strings"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Vehicle prints what is known of a vehicle's make-up: as it left the works,
// or as it is on a date (today, when on is zero).
func (c *Console) Vehicle(ctx context.Context, serial string, on vehicle.Date, asBuilt bool) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	build, err := c.Builds.GetBuild(ctx, &buildv1.GetBuildRequest{Name: name})
	if err != nil {
		return err
	}
	config, err := c.Builds.GetConfiguration(ctx, &buildv1.GetConfigurationRequest{Name: name, OnDate: vehiclewire.DateProto(on), AsBuilt: asBuilt})
	if err != nil {
		return err
	}
	if c.JSON {
		return c.print(config, nil)
	}
	standing, err := c.whatBecame(ctx, serialOf(name))
	if err != nil {
		return err
	}
	changes, amendments, err := c.whatHappened(ctx, name)
	if err != nil {
		return err
	}
	return c.print(config, func(s *sheet) {
		identity(s, build, config)
		if standing != "" {
			s.text("  NOTE  ", standing)
		}
		fitted(s, config)
		measured(s, build)
		history(s, changes)
		corrections(s, amendments)
	})
}

// whatHappened gives the changes and corrections of a vehicle to whoever may
// see them.
func (c *Console) whatHappened(ctx context.Context, build string) ([]*buildv1.Change, []*buildv1.Amendment, error) {
	if !c.searches(ctx) {
		return nil, nil, nil
	}
	changes, err := page.All(func(token string) ([]*buildv1.Change, string, error) {
		r, err := c.Builds.ListChanges(ctx, &buildv1.ListChangesRequest{Parent: build, PageSize: 500, PageToken: token})
		return r.GetChanges(), r.GetNextPageToken(), ifTheyMay(err)
	})
	if err != nil {
		return nil, nil, err
	}
	amendments, err := page.All(func(token string) ([]*buildv1.Amendment, string, error) {
		r, err := c.Builds.ListAmendments(ctx, &buildv1.ListAmendmentsRequest{Parent: build, PageSize: 500, PageToken: token})
		return r.GetAmendments(), r.GetNextPageToken(), ifTheyMay(err)
	})
	if err != nil {
		return nil, nil, err
	}
	return changes, amendments, nil
}

// ifTheyMay is an error, and none where the caller may not ask: an owner or a
// dealer is shown the vehicle without what is for the works.
func ifTheyMay(err error) error {
	if status.Code(err) == codes.PermissionDenied {
		return nil
	}
	return err
}

// identity is what the caller hears first.
func identity(s *sheet, b *buildv1.Build, c *buildv1.Configuration) {
	s.line("%s", serialOf(b.GetName()))
	rows := [][]string{
		{"frame number", b.GetFrameNumber()},
		{"built to", idOf(c.GetRelease()) + ", " + b.GetWheelbase() + " wheelbase" + options(c.GetOptions())},
		{"delivered", day(b.GetDeliveryDate())},
		{"plate", c.GetPlate()},
		{"tyres", strings.TrimSpace(c.GetTyre().GetSize() + " " + c.GetTyre().GetPattern())},
		{"axle ratio", ratio(c.GetAxleRatio())},
		{"odometer", dial(c)},
		{"finish", strings.TrimSpace(finish(b.GetFinish()) + " " + b.GetFinishNote())},
	}
	for _, row := range rows {
		if row[1] != "" {
			s.line("  %-13s %s", row[0], row[1])
		}
	}
	for _, d := range b.GetDeviations() {
		s.text("  deviation     ", d.GetDeviationId()+": "+d.GetText()+" (approved by "+d.GetApprovedBy()+", "+day(d.GetApprovedDate())+")")
	}
}

func ratio(text string) string {
	if text == "" {
		return ""
	}
	return text + " to 1"
}

func options(ids []string) string {
	if len(ids) == 0 {
		return ""
	}
	return ", with " + strings.Join(ids, ", ")
}

func dial(c *buildv1.Configuration) string {
	if c.GetDial() == nil {
		return ""
	}
	unit := "miles"
	if c.GetDial().GetUnit() == "km" {
		unit = "kilometres"
	}
	return plural(int(c.GetDial().GetDigits()), "digit", "digits") + ", " + unit
}

func finish(f buildv1.Finish) string {
	switch f {
	case buildv1.Finish_FINISH_ORIGINAL_RETAINED:
		return "original retained."
	case buildv1.Finish_FINISH_REFINISHED:
		return "refinished."
	}
	return ""
}

// fitted is the configuration, position by position. What is not the standard
// says why beneath.
func fitted(s *sheet, c *buildv1.Configuration) {
	if c.GetAsBuilt() {
		s.heading("As it left the works")
	} else {
		s.heading("As it is on %s", day(c.GetOnDate()))
	}
	rows := make([][]string, 0, len(c.GetFitted()))
	for _, f := range c.GetFitted() {
		u := f.GetComponent()
		var about []string
		if f.GetQuantity() > 1 {
			about = append(about, plural(int(f.GetQuantity()), "piece", "pieces"))
		}
		if u.GetSerial() != "" {
			about = append(about, "serial "+u.GetSerial())
		}
		if u.GetLot() != "" {
			about = append(about, "lot "+u.GetLot())
		}
		if f.GetOrigin() != buildv1.FittedOrigin_FITTED_ORIGIN_RELEASE {
			about = append(about, "by "+word(f.GetOrigin(), "FITTED_ORIGIN_"))
			if d := day(u.GetFittedDate()); d != "" {
				about = append(about, "fitted "+d)
			}
		}
		rows = append(rows, []string{u.GetPosition(), u.GetPart(), strings.Join(about, ", ")})
	}
	s.table("  ", rows)
	for _, f := range c.GetFitted() {
		if f.GetStandard() || len(f.GetReasons()) == 0 {
			continue
		}
		s.heading("  %s", f.GetComponent().GetPosition())
		for _, r := range f.GetReasons() {
			s.text("    ", r.GetSentence())
		}
	}
}

func measured(s *sheet, b *buildv1.Build) {
	if len(b.GetMeasurements()) == 0 {
		return
	}
	s.heading("Measured at the build")
	var rows [][]string
	for _, m := range b.GetMeasurements() {
		rows = append(rows, []string{m.GetPosition(), m.GetCharacteristic(), quantity(m.GetValue()), day(m.GetMeasuredDate())})
	}
	s.table("  ", rows)
}

func history(s *sheet, changes []*buildv1.Change) {
	if len(changes) == 0 {
		return
	}
	s.heading("What happened since")
	for _, c := range changes {
		s.text("  ", day(c.GetChangeDate())+": "+change(c))
	}
}

// change is one change in a line.
func change(c *buildv1.Change) string {
	parts := []string{word(c.GetKind(), "CHANGE_KIND_")}
	if p := c.GetComponent().GetPosition(); p != "" {
		parts = append(parts, p)
	}
	if p := c.GetComponent().GetPart(); p != "" {
		parts = append(parts, p)
	}
	if r := c.GetRelease(); r != "" {
		parts = append(parts, "to "+idOf(r)+" at "+strings.Join(c.GetPositions(), ", "))
	}
	for _, word := range []string{c.GetOption(), c.GetPlate(), c.GetAxleRatio(), c.GetTyre().GetSize()} {
		if word != "" {
			parts = append(parts, word)
		}
	}
	text := strings.Join(parts, " ")
	if r := entered(c.GetReading()); r != "" {
		text += " at " + r
	}
	if r := c.GetReason(); r != "" {
		text += " (" + r + ")"
	}
	if o := c.GetCounterpart(); o != "" {
		text += "; the other half is on " + serialOf(o)
	}
	return text + "."
}

func corrections(s *sheet, amendments []*buildv1.Amendment) {
	if len(amendments) == 0 {
		return
	}
	s.heading("Corrections of the record")
	for _, a := range amendments {
		when := a.GetCreateTime().AsTime()
		s.text("  ", when.Format("2 January 2006")+", "+a.GetAuthor()+": "+a.GetReason())
		for _, f := range a.GetFields() {
			s.text("    ", f.GetPath()+": "+orNothing(f.GetBefore())+" became "+orNothing(f.GetAfter()))
		}
	}
}

func orNothing(text string) string {
	if text == "" {
		return "nothing"
	}
	return text
}
