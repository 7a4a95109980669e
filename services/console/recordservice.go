package console

import (
	"context"
	"strings"

	"github.com/google/uuid"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Service is work done, as typed on the command line.
type Service struct {
	On      vehicle.Date
	Items   []string // "E01", or with values "T02=end-float:0.10mm,end-float@front:0.12mm"
	Reading string   // as Reading.Value; empty when nobody read it
	Parts   []string // "AP-2041" or "2xAP-2041"
	DoneBy  string
	Note    string
}

// RecordService records work done. It prints the items' new dates, what each
// measured value means, and what is doubtful about the entry: a part that the
// catalogue has not, an item that does not apply, a reading that does not fit.
func (c *Console) RecordService(ctx context.Context, serial string, w Service) error {
	name, unit, err := c.openWithDial(ctx, serial)
	if err != nil {
		return err
	}
	entry := &schedulev1.ServiceEntry{ServiceDate: vehiclewire.DateProto(w.On), DoneBy: w.DoneBy, Note: w.Note}
	if entry.Reading, err = odometer("reading", w.Reading, unit); err != nil {
		return err
	}
	for _, text := range w.Items {
		item, err := itemDone(text)
		if err != nil {
			return err
		}
		entry.Items = append(entry.Items, item)
	}
	for _, text := range w.Parts {
		entry.Parts = append(entry.Parts, partUsed(text))
	}
	cautions, err := c.cataloguedParts(ctx, name, entry.GetParts())
	if err != nil {
		return err
	}
	made, err := c.Schedules.RecordService(ctx, &schedulev1.RecordServiceRequest{
		Parent: "vehicles/" + serialOf(name), ServiceEntry: entry, RequestId: uuid.NewString(),
	})
	if err != nil {
		return err
	}
	if c.JSON {
		return c.print(made, nil)
	}
	return c.afterService(ctx, made, cautions)
}

// cataloguedParts writes part numbers as the catalogue does, and gives a caution
// about each that is not in it: an owner's mechanic may use what the works never
// had.
func (c *Console) cataloguedParts(ctx context.Context, build string, used []*schedulev1.PartUsed) (cautions []string, err error) {
	for _, p := range used {
		number, err := c.inCatalogue(ctx, build, p.GetPart())
		if err != nil {
			return nil, err
		}
		if number == "" {
			cautions = append(cautions, p.GetPart()+" is not in the catalogue, and is recorded as it was typed. Look whether the number is right.")
			continue
		}
		p.Part = number
	}
	return cautions, nil
}

// inCatalogue gives a part number as the catalogue writes it, "" for one that is
// not in it. Whoever may not look in the catalogue, as a dealer, is told what
// the vehicle's own answer says of the number.
func (c *Console) inCatalogue(ctx context.Context, build, number string) (string, error) {
	if !c.searches(ctx) {
		return c.onVehicle(ctx, build, number)
	}
	part, err := c.Parts.GetPart(ctx, &partsv1.GetPartRequest{Name: "parts/" + number})
	switch status.Code(err) {
	case codes.OK:
		return idOf(part.GetName()), nil
	case codes.NotFound, codes.InvalidArgument:
		return "", nil
	}
	return "", err
}

// onVehicle gives a part number as the catalogue writes it, when a vehicle has
// or takes that part.
func (c *Console) onVehicle(ctx context.Context, build, number string) (string, error) {
	answer, err := c.Parts.AnswerPart(ctx, &partsv1.AnswerPartRequest{Build: build, Question: number})
	if err != nil {
		return "", err
	}
	for _, choice := range answer.GetChoices() {
		for _, known := range []string{idOf(choice.GetOrder().GetName()), choice.GetFittedPart(), choice.GetSpecifiedPart()} {
			if known != "" && bare(known) == bare(number) {
				return known, nil
			}
		}
	}
	return "", nil
}

// bare is a part number without what separates its parts.
func bare(number string) string {
	return strings.ToUpper(strings.NewReplacer("-", "", " ", "", ".", "", "/", "").Replace(number))
}

// itemDone reads "T02=end-float:0.10mm,end-float@swivel-pin-left:55N".
func itemDone(text string) (*schedulev1.ItemDone, error) {
	id, values, _ := strings.Cut(text, "=")
	item := &schedulev1.ItemDone{ItemId: strings.TrimSpace(id)}
	if values == "" {
		return item, nil
	}
	for v := range strings.SplitSeq(values, ",") {
		what, value, ok := strings.Cut(v, ":")
		if !ok {
			return nil, fault.InvalidField("item", text, "ITEM=CHARACTERISTIC:VALUE, as in T02=end-float:0.10mm")
		}
		quantity, err := vehicle.ParseQuantity(value)
		if err != nil {
			return nil, fault.Under("item", err)
		}
		characteristic, position, _ := strings.Cut(strings.TrimSpace(what), "@")
		item.Measured = append(item.Measured, &schedulev1.MeasuredValue{
			Characteristic: characteristic, Position: position, Value: vehiclewire.QuantityProto(quantity),
		})
	}
	return item, nil
}

// partUsed reads "AP-2041" or "2xAP-2041".
func partUsed(text string) *schedulev1.PartUsed {
	if count, number, ok := strings.Cut(text, "x"); ok {
		if n, err := vehicle.ParseDecimal(count); err == nil && n.Scale == 0 && n.Coefficient > 0 && n.Coefficient < 1000 {
			return &schedulev1.PartUsed{Part: number, Quantity: int32(n.Coefficient)}
		}
	}
	return &schedulev1.PartUsed{Part: text, Quantity: 1}
}
