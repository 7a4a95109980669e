package console

import (
	"context"
	"strings"

	"github.com/google/uuid"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Change is something that happened to a vehicle, as typed on the command line.
type Change struct {
	What    ChangeOf
	On      vehicle.Date // today, when zero
	Source  string       // service, works, campaign or owner; of a plate it may be empty
	DoneBy  string
	Reason  string // at least one word, but of a plate
	Reading string // what the odometer showed, before a new dial; as Reading.Value
}

// ChangeOf is one kind of change: FitChange, RemoveChange, …
type ChangeOf interface {
	// enter writes what was typed into the change, and gives what cannot be read.
	enter(*buildv1.Change) []fault.Field
}

// RecordChange records something that happened to a vehicle. It prints what was
// recorded, what stood there before, and what follows from it.
func (c *Console) RecordChange(ctx context.Context, serial string, typed Change) error {
	change, wrong := typed.proto()
	if err := fault.InvalidFields(wrong); err != nil {
		return err
	}
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	before, err := c.configuration(ctx, name, typed.On)
	if err != nil {
		return err
	}
	change.ChangeDate = before.GetOnDate() // the server's today, where no day was typed
	if change.Reading, err = dialReading("reading", typed.Reading, before.GetDial().GetUnit()); err != nil {
		return err
	}
	caution, err := c.catalogued(ctx, change)
	if err != nil {
		return err
	}
	was := c.today(ctx, name)
	made, err := c.Builds.RecordChange(ctx, &buildv1.RecordChangeRequest{Parent: name, Change: change, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	// From here on nothing may fail: the change stands, and whoever took an
	// error for a refusal would record it once more.
	if c.JSON {
		return c.print(made, nil)
	}
	after, err := c.configuration(ctx, name, typed.On)
	if err != nil {
		after = nil
	}
	line, now, ask := c.lineAfter(ctx, made), c.today(ctx, name), c.readingWanted(ctx, made, before)
	return c.print(made, func(s *sheet) {
		changeText(s, made, before, after)
		s.text("  CAUTION   ", caution)
		lineText(s, line)
		followsText(s, "follows", serialOf(name), was, now)
		s.text("  to do     ", wheelsOff(made, before))
		s.text("  ask       ", ask)
		s.line("  recorded  %s", made.GetName())
	})
}

// catalogued writes the part number of a change as the catalogue does, so that
// "ap6011" is not another part than AP-6011. It gives a caution about a number
// that is not in it: an owner may fit what the works never had.
func (c *Console) catalogued(ctx context.Context, change *buildv1.Change) (caution string, err error) {
	number := change.GetComponent().GetPart()
	if number == "" {
		return "", nil
	}
	part, err := c.Parts.GetPart(ctx, &partsv1.GetPartRequest{Name: "parts/" + number})
	switch {
	case status.Code(err) == codes.NotFound:
		return number + " is not in the catalogue. If it was mistyped, record the right number in the same way: of one day the later one stands.", nil
	case err != nil:
		return "", err
	}
	change.Component.Part = idOf(part.GetName())
	return "", nil
}

// configuration tells what is on a vehicle on a day (today, when on is zero).
func (c *Console) configuration(ctx context.Context, name string, on vehicle.Date) (*buildv1.Configuration, error) {
	return c.Builds.GetConfiguration(ctx, &buildv1.GetConfigurationRequest{Name: name, OnDate: vehiclewire.DateProto(on)})
}

// proto is the change as it is sent, but for its day and reading, which are read
// in the light of the vehicle.
func (t Change) proto() (*buildv1.Change, []fault.Field) {
	change := &buildv1.Change{Reason: strings.TrimSpace(t.Reason), DoneBy: strings.TrimSpace(t.DoneBy)}
	wrong := t.What.enter(change)
	plate := change.GetKind() == buildv1.ChangeKind_CHANGE_KIND_PLATE
	source, ok := buildv1.ChangeSource_value["CHANGE_SOURCE_"+strings.ToUpper(t.Source)]
	if (!ok || source == 0) && !(plate && t.Source == "") {
		wrong = append(wrong, fault.Field{Name: "source", Got: t.Source, Want: "under whose authority: " + kinds(buildv1.ChangeSource_name, "CHANGE_SOURCE_")})
	}
	change.Source = buildv1.ChangeSource(source)
	if change.GetReason() == "" && !plate {
		wrong = append(wrong, fault.Field{Name: "reason", Want: "why, in at least one word: it is read in decades"})
	}
	return change, wrong
}

// dialReading reads what an odometer showed, with the unit joined on or apart:
// "48210mi", "48,210 mi". Without one it is that of the dial.
func dialReading(field, text, unit string) (*vehiclev1.Distance, error) {
	digits, said := apart(text)
	if said == "" {
		said = unit
	}
	if digits == "" && text == "" {
		return nil, nil
	}
	return odometer(field, digits+" "+said, unit)
}

// apart parts the digits of a distance from its unit.
func apart(text string) (digits, unit string) {
	text = strings.TrimSpace(text)
	n := strings.LastIndexAny(text, "0123456789") + 1
	return strings.TrimSpace(text[:n]), strings.TrimSpace(text[n:])
}
