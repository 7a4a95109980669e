package console

import (
	"context"
	"errors"
	"fmt"
	"strconv"

	"github.com/google/uuid"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// ShimRecord records the pack that was chosen in a service entry.
type ShimRecord struct {
	Item    string // of the programme: "T02"
	DoneBy  string
	Choose  int    // which of the packs, from 1; 0 where there is one only
	After   string // what was measured with it: "0.06 mm"; empty when not yet
	On      vehicle.Date
	Reading string // as Reading.Value
	Note    string
}

// check looks at what needs no answer.
func (r *ShimRecord) check() error {
	switch {
	case r == nil:
		return nil
	case r.DoneBy == "":
		return fault.InvalidField("by", "", "who did the work: --by NAME")
	case r.Choose < 0:
		return fault.InvalidField("choose", strconv.Itoa(r.Choose), "the number of a pack")
	}
	_, err := r.after()
	return err
}

func (r *ShimRecord) after() (*vehiclev1.Quantity, error) {
	if r.After == "" {
		return nil, nil
	}
	q, err := vehicle.ParseQuantity(r.After)
	if err != nil {
		return nil, fault.InvalidField("measured-after", r.After, fault.FieldsOf("", err)[0].Want)
	}
	return vehiclewire.QuantityProto(q), nil
}

// chosen is the pack to record. Of several the person who fitted one must say
// which; and so where the fitted pack may as well have stayed in.
func (r *ShimRecord) chosen(a *partsv1.ShimSelection) (*partsv1.ShimPack, error) {
	packs := a.GetPacks()
	switch n := len(packs); {
	case n == 0:
		return nil, ErrRefused
	case r.Choose > n || r.Choose == 0 && n > 1:
		got := ""
		if r.Choose > 0 {
			got = strconv.Itoa(r.Choose)
		}
		return nil, fault.InvalidField("choose", got, fmt.Sprintf("which of the packs was fitted, 1 to %d: nothing was recorded", n))
	case r.Choose == 0 && a.GetWithin():
		return nil, fault.InvalidField("choose", "", "1, if this pack was fitted although the old one may stay: nothing was recorded")
	}
	return packs[max(r.Choose, 1)-1], nil
}

// recordShims prints the answer and records the pack that was chosen.
func (c *Console) recordShims(ctx context.Context, asked *partsv1.SelectShimsRequest, a *partsv1.ShimSelection, q ShimQuestion) error {
	pack, err := q.Record.chosen(a)
	if err != nil {
		return errors.Join(c.print(a, func(s *sheet) { shimAnswer(s, a, "") }), err)
	}
	entry, err := c.shimEntry(ctx, asked, a, pack, q.Record)
	if err != nil {
		return err
	}
	made, err := c.Schedules.RecordService(ctx, &schedulev1.RecordServiceRequest{
		Parent: "vehicles/" + serialOf(a.GetBuild()), ServiceEntry: entry, RequestId: uuid.NewString(),
	})
	if err != nil {
		return err
	}
	if c.JSON {
		return c.print(made, nil)
	}
	if err := c.print(a, func(s *sheet) { shimAnswer(s, a, "") }); err != nil {
		return err
	}
	if err := c.afterService(ctx, made, nil); err != nil {
		return err
	}
	return c.print(made, func(s *sheet) { recordedShims(s, a, pack, made) })
}

// shimEntry is the service entry for a pack.
func (c *Console) shimEntry(ctx context.Context, asked *partsv1.SelectShimsRequest, a *partsv1.ShimSelection, pack *partsv1.ShimPack, r *ShimRecord) (*schedulev1.ServiceEntry, error) {
	after, err := r.after()
	if err != nil {
		return nil, err
	}
	work := &schedulev1.ShimWork{
		Position: a.GetPosition(), Characteristic: a.GetSetting().GetCharacteristic(), MeasuredBefore: asked.GetMeasured(),
		PackBefore: a.GetFittedPack(), MeasuredAfter: after,
	}
	entry := &schedulev1.ServiceEntry{
		ServiceDate: vehiclewire.DateProto(r.On), DoneBy: r.DoneBy, Note: r.Note,
		Items: []*schedulev1.ItemDone{{ItemId: r.Item, Shims: []*schedulev1.ShimWork{work}}},
	}
	for _, one := range pack.GetShims() {
		number := ""
		if one.GetPart() != "" {
			number = idOf(one.GetPart())
		}
		work.Shims = append(work.Shims, &schedulev1.ShimUsed{Thickness: one.GetThickness(), Count: one.GetCount(), Part: number})
		if n := one.GetCount() - one.GetFromFitted(); n > 0 && number != "" {
			entry.Parts = append(entry.Parts, &schedulev1.PartUsed{Part: number, Quantity: n})
		}
	}
	if r.Reading != "" {
		unit, err := c.dialUnit(ctx, serialOf(a.GetBuild()))
		if err != nil {
			return nil, err
		}
		if entry.Reading, err = odometer("reading", r.Reading, unit); err != nil {
			return nil, err
		}
	}
	return entry, nil
}

// recordedShims says what was recorded, and what is to be recorded besides.
func recordedShims(s *sheet, a *partsv1.ShimSelection, pack *partsv1.ShimPack, made *schedulev1.ServiceEntry) {
	s.text("  shims   ", packText(pack)+", recorded for the "+place(a.GetPosition()))
	after := made.GetItems()[0].GetShims()[0].GetMeasuredAfter()
	if after == nil {
		s.text("  next    ", "Measure again when it is bolted up, and record what it comes to.")
	} else if off := notAsItShould(a, pack, after); off != "" {
		s.text("  CAUTION ", off)
	}
	for _, r := range a.GetReasons() {
		if r.GetRule() == "RECORD_THE_OVERHAUL" {
			for _, f := range r.GetFacts() {
				s.text("  next    ", fmt.Sprintf("Record the overhaul too, for the bedding-in check is counted from it: halfshaft record change %s overhaul %s --source service --by NAME --reason re-shimmed",
					serialOf(a.GetBuild()), f.GetValue()))
			}
		}
	}
}
