package console

import (
	"context"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/vehicle/vehiclewire"
)

// packOnRecord is the pack of shims that records say is in a joint.
type packOnRecord struct {
	thickness string // "0.51 mm"; empty when nothing is on record
	source    string // "the service entry vehicles/… of 11 May 2022 by …"
	since     string // what happened since without a pack being written down; empty for nothing
}

// packThatIsIn looks which pack is on record: as the latest work with shims left
// it, or else as it was measured at the build. Nothing is found where that
// cannot be asked.
func (c *Console) packThatIsIn(ctx context.Context, serial string, q *ShimQuestion) packOnRecord {
	position := asPosition(q.Position)
	r, err := c.Schedules.ListMeasuredSeries(ctx, &schedulev1.ListMeasuredSeriesRequest{
		Parent: "vehicles/" + serial, Position: position, Characteristic: "shim-pack", OnDate: vehiclewire.DateProto(q.On),
	})
	if err != nil {
		return packOnRecord{}
	}
	for _, m := range r.GetMeasuredSeries() {
		if m.GetPosition() == position {
			return lastPack(m)
		}
	}
	return packOnRecord{}
}

// lastPack reads the pack off the series of its thickness.
func lastPack(m *schedulev1.MeasuredSeries) packOnRecord {
	values := m.GetValues()
	if len(values) == 0 {
		return packOnRecord{}
	}
	last := values[len(values)-1]
	p := packOnRecord{thickness: quantity(last.GetValue()), source: "the service entry " + last.GetRecord()}
	if strings.HasPrefix(last.GetRecord(), "builds/") {
		p.source = "the build record"
	}
	p.source += ", " + day(last.GetMeasuredDate())
	if last.GetMeasuredBy() != "" {
		p.source += ", " + last.GetMeasuredBy()
	}
	at, _ := vehiclewire.Date(last.GetMeasuredDate())
	for _, b := range m.GetBreaks() {
		on, _ := vehiclewire.Date(b.GetBreakDate())
		if on.After(at) || on == at && last.GetStage() != schedulev1.MeasuredStage_MEASURED_STAGE_AS_LEFT {
			p.since = b.GetText() + " on " + day(b.GetBreakDate())
		}
	}
	return p
}

// usable says whether a question can be answered with it: nothing happened since,
// and nothing is going to be written down that rests on it.
func (p packOnRecord) usable(q *ShimQuestion) bool {
	return p.thickness != "" && p.since == "" && q.Record == nil
}

// offer says in a refusal which pack is on record; empty for none.
func (p packOnRecord) offer() string {
	switch {
	case p.thickness == "":
		return ""
	case p.since != "":
		return ". On record is " + p.thickness + " (" + p.source + "), but since then " + p.since + " and no pack was written down: measure it"
	}
	return ". On record is " + p.thickness + " (" + p.source + "): --pack \"" + p.thickness + "\", if that is what was in"
}

// words say that an answer rests on it.
func (p packOnRecord) words() string {
	return p.thickness + " as on record (" + p.source + "), for nobody said what is in. Measure it when it is out, and ask again with --pack if it differs."
}
