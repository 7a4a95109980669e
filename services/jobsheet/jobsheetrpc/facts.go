package jobsheetrpc

import (
	"context"
	"fmt"
	"slices"
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/jobsheet"
	"halfshaft/services/jobsheet/jobsheetwire"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// facts gathers all that a sheet is made from. wanted are the items that were
// named; those of the planned visit and all remedies where none were.
func (s *Service) facts(ctx context.Context, serial vehicle.Serial, on vehicle.Date, wanted []string) (jobsheet.Facts, error) {
	g, err := s.gather(ctx, serial)
	if err != nil {
		return jobsheet.Facts{}, err
	}
	all := len(wanted) == 0
	if all {
		if on, wanted, err = g.visit(on); err != nil && len(remedies(g.bulletins)) == 0 {
			return jobsheet.Facts{}, err
		}
	}
	if on.IsZero() {
		on = s.today()
	}
	f := jobsheet.Facts{
		Serial: serial, Visit: on, Plate: g.configuration.GetPlate(), Identity: g.identity(), Options: g.configuration.GetOptions(), Sample: g.schedule.GetSample(),
		Sources: []string{g.schedule.GetProgramme(), g.configuration.GetRelease()},
	}
	for _, fitted := range g.configuration.GetFitted() {
		f.Positions = append(f.Positions, fitted.GetComponent().GetPosition())
	}
	readings, err := page.All(func(token string) ([]*schedulev1.Reading, string, error) {
		r, err := s.Schedules.ListReadings(ctx, &schedulev1.ListReadingsRequest{Parent: "vehicles/" + string(serial), PageSize: 500, PageToken: token})
		return r.GetReadings(), r.GetNextPageToken(), err
	})
	g.gap("What the odometer showed", err)
	f.Distance = g.distance(readings)
	g.gap("What the odometer may show", s.expect(ctx, g, &f.Distance, serial, on))
	if n := g.schedule.GetDoubtfulReadings(); n > 0 {
		f.Warnings = append(f.Warnings, vehicle.Reason{
			Rule: "DOUBTFUL_READINGS", Facts: []vehicle.Fact{{Name: "readings", Value: fmt.Sprint(n)}},
			Sentence: fmt.Sprintf("Readings that nobody has decided about: %d. Read the odometer with care, and say what it shows.", n),
		})
	}
	if err := choose(&f, g, wanted, all); err != nil {
		return f, err
	}
	g.measured(&f)
	g.settings(&f)
	f.Gaps = g.gaps
	s.parts(ctx, &f)
	s.title(ctx, &f)
	return f, nil
}

// choose puts the items that are wanted into the facts, those of the programme in
// its order.
func choose(f *jobsheet.Facts, g *gathered, wanted []string, all bool) error {
	open := remedies(g.bulletins)
	if all {
		f.Remedies = open
	}
	var wrong []fault.Field
	known := map[string]bool{}
	statuses := g.inProgrammeOrder()
	for _, st := range statuses {
		known[st.GetItemId()] = true
		if !slices.Contains(wanted, st.GetItemId()) {
			continue
		}
		item, err := itemOf(st)
		if err != nil {
			return err
		}
		f.Items = append(f.Items, item)
	}
	for i, id := range wanted {
		campaign, one, remedy := strings.Cut(id, "/")
		if !remedy && known[id] {
			continue
		}
		if !remedy || !takeRemedy(f, open, campaign, one) {
			wrong = append(wrong, fault.Field{Name: fmt.Sprintf("item_ids[%d]", i), Got: id, Want: "an item of this vehicle's programme, or of the remedy of a campaign that is open on it"})
		}
	}
	return fault.InvalidFields(wrong)
}

// takeRemedy takes the remedy of an open campaign into the facts, of which one
// item was named. It comes whole: a campaign counts when all of its remedy is
// done, and a sheet with a part of it would call the whole of it done, or could
// never come back.
func takeRemedy(f *jobsheet.Facts, open []jobsheet.Remedy, campaign, one string) bool {
	at := slices.IndexFunc(open, func(r jobsheet.Remedy) bool {
		return r.Campaign == campaign && slices.ContainsFunc(r.Items, func(i jobsheet.RemedyItem) bool { return i.ID == one })
	})
	if at < 0 {
		return false
	}
	if !slices.ContainsFunc(f.Remedies, func(r jobsheet.Remedy) bool { return r.Campaign == campaign }) {
		f.Remedies = append(f.Remedies, open[at])
	}
	return true
}

// why says why an item is due. A sheet is for whoever does the work, also where
// the works made it: as the schedule does for dealers, it says on which day moved
// work is to be done, and not that the vehicle stands still until then.
func why(st *schedulev1.ItemStatus) string {
	text := st.GetSentence()
	for _, r := range st.GetReasons() {
		if r.GetRule() != schedule.RuleMovedByLayUp || r.GetSentence() == "" {
			continue
		}
		says := "there is no day to do it on yet."
		if on := dayOf(st.GetActByDate()); !on.IsZero() {
			says = "the day to do it by is " + on.Long() + "."
		}
		text = strings.Replace(text, wording.LowerFirst(r.GetSentence()), says, 1)
	}
	return text
}

// itemOf reads an item with why it is due.
func itemOf(st *schedulev1.ItemStatus) (jobsheet.Item, error) {
	p := st.GetItem()
	i := jobsheet.Item{
		ID: st.GetItemId(), Title: st.GetTitle(), Group: st.GetGroup(), Position: p.GetPosition(), Why: why(st),
		Caution: p.GetCaution(), Doc: p.GetDocRef(), Tools: p.GetTools(),
	}
	for _, m := range p.GetMeasured() {
		l, err := jobsheetwire.Limit(m)
		if err != nil {
			return i, err
		}
		i.Measured = append(i.Measured, l)
	}
	if n := p.GetFluid(); n.GetFluid() != "" {
		i.Fluid = jobsheet.Fluid{Fluid: n.GetFluid(), NeverMix: n.GetNeverMix()}
		if n.GetQuantity() != nil {
			var err error
			if i.Fluid.Quantity, err = vehiclewire.Quantity(n.GetQuantity()); err != nil {
				return i, err
			}
		}
	}
	for _, n := range p.GetParts() {
		i.Needs = append(i.Needs, jobsheet.Need{Position: n.GetPosition(), Quantity: int(n.GetQuantity()), IfNeeded: n.GetIfNeeded()})
	}
	return i, nil
}

// toDo are the states of a campaign in which its remedy can be carried out.
var toDo = []bulletinv1.FollowUpState{
	bulletinv1.FollowUpState_FOLLOW_UP_STATE_OPEN, bulletinv1.FollowUpState_FOLLOW_UP_STATE_NOTIFIED, bulletinv1.FollowUpState_FOLLOW_UP_STATE_BOOKED,
	bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE_WRONG, bulletinv1.FollowUpState_FOLLOW_UP_STATE_OWNER_UNKNOWN, bulletinv1.FollowUpState_FOLLOW_UP_STATE_EXPORTED,
}

// remedies gives the open campaigns of a vehicle with what they ask for.
func remedies(all []*bulletinv1.VehicleBulletin) []jobsheet.Remedy {
	var out []jobsheet.Remedy
	for _, v := range all {
		b, f := v.GetBulletin(), v.GetFollowUp()
		if f == nil || !slices.Contains(toDo, f.GetState()) || len(b.GetRemedy()) == 0 {
			continue
		}
		r := jobsheet.Remedy{
			FollowUp: f.GetName(), Campaign: f.GetName()[strings.LastIndexByte(f.GetName(), '/')+1:], Title: b.GetTitle(),
			Caution: b.GetCaution(), StopUse: f.GetStopUse(), Why: strings.TrimSpace(b.GetFault() + " " + b.GetConsequence()), Sample: b.GetSample(),
		}
		for _, m := range b.GetRemedy() {
			i := jobsheet.RemedyItem{ID: m.GetItemId(), Title: m.GetTitle(), Caution: m.GetCaution(), Tools: m.GetTools(), Minutes: int(m.GetMinutes())}
			for _, p := range m.GetParts() {
				i.Parts = append(i.Parts, jobsheet.Part{Number: p.GetPart(), Quantity: max(1, int(p.GetQuantity())), Position: p.GetPosition()})
			}
			for _, l := range m.GetMeasured() {
				if limit, err := jobsheetwire.Limit(l); err == nil {
					i.Measured = append(i.Measured, limit)
				}
			}
			r.Items = append(r.Items, i)
		}
		out = append(out, r)
	}
	return out
}

// measured puts what was measured before into the facts, and the packs of shims
// as they were last fitted.
func (g *gathered) measured(f *jobsheet.Facts) {
	for _, m := range g.series {
		s := jobsheet.Series{Position: m.GetPosition(), Characteristic: m.GetCharacteristic()}
		if len(m.GetTrend().GetForecasts()) > 0 { // else it only says that nothing can be said
			s.Trend = m.GetTrend().GetOutlook().GetSentence()
		}
		for _, v := range slices.Backward(m.GetValues()) {
			if q, err := vehiclewire.Quantity(v.GetValue()); err == nil {
				s.Values = append(s.Values, jobsheet.LastValue{Date: dayOf(v.GetMeasuredDate()), Value: q})
			}
		}
		if all := m.GetBreaks(); len(all) > 0 && len(s.Values) > 0 {
			if b := all[len(all)-1]; dayOf(b.GetBreakDate()).After(s.Values[0].Date) {
				s.Renewed, s.Trend = true, "Since then, on "+dayOf(b.GetBreakDate()).Long()+", "+b.GetText()+"."
			}
		}
		f.Series = append(f.Series, s)
	}
	renewed := g.renewed()
	for _, e := range slices.Backward(g.entries) {
		if e.GetVoidReason() != "" {
			continue
		}
		for _, done := range e.GetItems() {
			for _, w := range done.GetShims() {
				if dayOf(e.GetServiceDate()).Before(renewed[w.GetPosition()]) {
					continue // it went with what stood there
				}
				f.Packs = append(f.Packs, jobsheet.Pack{Position: w.GetPosition(), Characteristic: w.GetCharacteristic(), Thickness: thickness(w), Text: packText(w)})
			}
		}
	}
	for _, s := range f.Series {
		if s.Characteristic == "shim-pack" && len(s.Values) > 0 && !s.Values[0].Date.Before(renewed[s.Position]) {
			f.Packs = append(f.Packs, jobsheet.Pack{Position: s.Position, Thickness: s.Values[0].Value})
		}
	}
}

// renewed gives by position the last day on which a component was fitted or
// overhauled there: which shims are in since, is on no record before they are
// written down anew, and a pack reckoned from the old ones would be wrong.
func (g *gathered) renewed() map[string]vehicle.Date {
	out := map[string]vehicle.Date{}
	for _, m := range g.series {
		for _, b := range m.GetBreaks() {
			if on := dayOf(b.GetBreakDate()); strings.HasPrefix(b.GetRecord(), "builds/") && on.After(out[m.GetPosition()]) {
				out[m.GetPosition()] = on
			}
		}
	}
	return out
}

// thickness is how thick a pack is: as measured, or else what its shims make
// together; zero where neither can be said.
func thickness(w *schedulev1.ShimWork) vehicle.Quantity {
	work, err := schedulewire.ShimWork(w)
	if err != nil {
		return vehicle.Quantity{}
	}
	if work.Pack.Unit != "" {
		return work.Pack
	}
	sum, _ := work.Sum()
	return sum
}

func packText(w *schedulev1.ShimWork) string {
	var parts []string
	for _, s := range w.GetShims() {
		text := fmt.Sprintf("%d x %s %s", max(1, s.GetCount()), s.GetThickness().GetValue(), s.GetThickness().GetUnit())
		if s.GetPart() != "" {
			text += " (" + s.GetPart() + ")"
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, " + ")
}

// settings puts what the vehicle is set and filled to into the facts.
func (g *gathered) settings(f *jobsheet.Facts) {
	for _, s := range g.technical.GetSettings() {
		p := s.GetSetting()
		title := strings.ReplaceAll(p.GetCharacteristic(), "-", " ")
		if p.GetSubject() != "" {
			title = p.GetSubject() + ", " + title
		}
		f.Settings = append(f.Settings, jobsheet.SheetSetting{
			Setting: jobsheet.Setting{
				Title: title, Position: p.GetPosition(), Lower: p.GetLower(), Target: p.GetTarget(), Upper: p.GetUpper(), Unit: p.GetUnit(), Method: p.GetMethod(),
			},
			Characteristic: p.GetCharacteristic(), Subject: p.GetSubject(), Doc: p.GetDocRef(), Caution: p.GetCaution(), Tools: p.GetTools(),
			Shimmed: p.GetShims() != nil, Window: s.GetWindow(), Sizes: sizes(p.GetShimSizes()),
		})
	}
	for _, s := range g.technical.GetFluids() {
		p := s.GetCapacity()
		fill := jobsheet.Fill{Family: p.GetFamily(), Doc: p.GetDocRef(), Fluid: jobsheet.Fluid{
			Fluid: p.GetFluid(), Position: p.GetPosition(), Method: p.GetMethod(), NeverMix: strings.Join(p.GetNeverMix(), ", "), Caution: p.GetCaution(),
		}}
		if q, err := vehiclewire.Quantity(p.GetQuantity()); err == nil && p.GetQuantity() != nil {
			fill.Quantity = q
		}
		f.Fluids = append(f.Fluids, fill)
	}
}

func sizes(all []*partsv1.ShimSize) string {
	var out []string
	for _, s := range all {
		out = append(out, s.GetThickness().GetValue()+" "+s.GetThickness().GetUnit())
	}
	return strings.Join(out, ", ")
}
