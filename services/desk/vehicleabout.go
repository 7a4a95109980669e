package desk

import (
	"cmp"
	"fmt"
	"html/template"
	"maps"
	"net/url"
	"slices"
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/internal/figure"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// doubtBlocks are the readings that wait for somebody.
func (v *visit) doubtBlocks(d *enquiryv1.Dossier) []block {
	if len(d.GetDoubtfulReadings()) == 0 {
		return nil
	}
	b := block{Heading: "Readings in doubt"}
	for _, r := range d.GetDoubtfulReadings() {
		b.List = append(b.List, v.doubtEntry(r))
	}
	return []block{b}
}

func (v *visit) doubtEntry(r *schedulev1.Reading) entry {
	e := entry{Term: entered(r.GetValue()), Text: "on " + civil(r.GetReadingDate()) + "."}
	if x := r.GetExplanations(); len(x) > 0 {
		e.Sub = x[0].GetSentence()
	}
	if v.staff() {
		e.Action = []link{{Label: "Settle the reading of " + civil(r.GetReadingDate()), Path: v.at("/readings/" + bare(r.GetName()))}}
	}
	return e
}

// campaignBlock are the bulletins and campaigns for the vehicle.
func (v *visit) campaignBlock(all []*bulletinv1.VehicleBulletin) block {
	b := block{Heading: "Bulletins and campaigns"}
	for _, x := range all {
		e := entry{Term: bare(x.GetName()), Text: x.GetBulletin().GetTitle(), Sub: x.GetMatch().GetSentence()}
		if f := x.GetFollowUp(); f != nil {
			e.Sub = f.GetSentence()
			if f.GetStopUse() {
				e.Mark = "not to be driven"
			}
			e.Action = []link{{Label: "Record a step of " + e.Term, Path: v.at("/campaigns/" + e.Term)}}
		}
		b.List = append(b.List, e)
	}
	if len(b.List) == 0 {
		b.Text = []string{"None holds for it."}
	}
	return b
}

// measuredBlock are the values that are beyond a limit or near it.
func (v *visit) measuredBlock(near []*schedulev1.MeasuredSeries) block {
	b := block{Heading: "Near a limit", Links: []link{{Label: "All that was measured", Path: v.at("/measured")}}}
	for _, m := range near {
		b.List = append(b.List, seriesEntry(m))
	}
	if len(near) == 0 {
		b.Text = []string{"No measured value is beyond its limit or near it."}
	}
	return b
}

// seriesEntry is the last value of a measured quantity.
func seriesEntry(m *schedulev1.MeasuredSeries) entry {
	values := m.GetValues()
	e := entry{Term: quantityName(m.GetPosition(), m.GetCharacteristic()), Sub: m.GetTrend().GetOutlook().GetSentence()}
	if len(values) == 0 {
		return e
	}
	last := values[len(values)-1]
	e.Text = quantity(last.GetValue()) + " on " + civil(last.GetMeasuredDate())
	if w := windowText(m.GetLimit()); w != "" {
		e.Text += "; it should be " + w
	}
	if n := len(m.GetBreaks()); n > 0 && onDay(m.GetBreaks()[n-1].GetBreakDate()).After(onDay(last.GetMeasuredDate())) {
		e.Text += "; overhauled since, on " + civil(m.GetBreaks()[n-1].GetBreakDate())
	} else if last.GetVerdict() > schedulev1.MeasuredVerdict_MEASURED_VERDICT_WITHIN {
		e.Mark = word(last.GetVerdict(), "MEASURED_VERDICT_")
	}
	return e
}

func quantityName(position, characteristic string) string {
	if position == "" {
		return wording.UpperFirst(place(characteristic))
	}
	return wording.UpperFirst(place(position)) + ", " + place(characteristic)
}

// windowText is the window of a limit in words; "" for none.
func windowText(l *schedulev1.MeasuredLimit) string {
	switch {
	case l == nil || l.GetLower() == "" && l.GetUpper() == "":
		return ""
	case l.GetLower() == "":
		return "at most " + l.GetUpper() + " " + l.GetUnit()
	case l.GetUpper() == "":
		return "at least " + l.GetLower() + " " + l.GetUnit()
	}
	return l.GetLower() + " to " + l.GetUpper() + " " + l.GetUnit()
}

// coverEntry says what is covered.
func coverEntry(c *warrantyv1.Cover) entry {
	return entry{Term: wording.UpperFirst(place(bare(c.GetName()))), Text: c.GetSentence(), Sub: c.GetQuestion()}
}

// coverBlock says whether it is under warranty, and is where a claim begins.
func (v *visit) coverBlock(d *enquiryv1.Dossier) block {
	b := block{Heading: "Warranty", Links: []link{{Label: "Begin a claim", Path: v.at("/claims/new")}, {Label: "All claims on it", Path: v.at("/claims")}}}
	for _, c := range d.GetCovers() {
		e := coverEntry(c)
		if position := bare(c.GetName()); position != "vehicle" && c.GetState() != warrantyv1.CoverState_COVER_STATE_NOT_COVERED {
			e.Action = []link{{Label: "Claim for the " + place(position), Path: v.at("/claims/new?position=" + url.QueryEscape(position))}}
		}
		b.List = append(b.List, e)
	}
	for _, c := range d.GetOpenClaims() {
		b.List = append(b.List, entry{Term: "Claim, " + place(c.GetPosition()), Path: v.claimAt(c.GetName()), Text: strings.TrimPrefix(inShort(c.GetSymptom())+", ", ", ") + word(c.GetState(), "CLAIM_STATE_")})
	}
	if len(b.List) == 0 {
		b.Text = []string{"No terms are on record for it."}
	}
	return b
}

// enquiryBlock are the last questions, and notes to answer from.
func (v *visit) enquiryBlock(d *enquiryv1.Dossier) block {
	b := block{Heading: "Asked before", Links: []link{{Label: "Open an enquiry", Path: v.at("/enquiries/new")}}}
	for _, e := range d.GetEnquiries() {
		x := entry{Term: day(e.GetAskTime()), Path: v.at("/enquiries/" + bare(e.GetName())), Text: cmp.Or(e.GetQuestion(), e.GetSymptom())}
		if !e.GetClosed() {
			x.Mark = "open"
		}
		for _, a := range e.GetAnswers() {
			x.More = append(x.More, a.GetText())
		}
		x.MoreLabel, x.Soon = "The answer", true
		b.List = append(b.List, x)
	}
	if len(b.List) == 0 {
		b.Text = []string{"Nothing was asked about it so far."}
	}
	return b
}

// noteBlocks are reviewed answers, which fit vehicles of the release: many, and
// opened when one is looked for.
func noteBlocks(d *enquiryv1.Dossier) []block {
	if len(d.GetAnswerNotes()) == 0 {
		return nil
	}
	b := block{Heading: "Reviewed answers", Fold: wording.Count(len(d.GetAnswerNotes()), "question") + " that are often asked"}
	for _, n := range d.GetAnswerNotes() {
		x := entry{Term: n.GetTitle(), More: []string{n.GetText()}, MoreLabel: "The answer"}
		if n.GetCaution() != "" {
			x.More = append(x.More, "Caution: "+n.GetCaution())
		}
		b.List = append(b.List, x)
	}
	return []block{b}
}

// workshopBlock is who can do the work, and where they are let see the vehicle.
func (v *visit) workshopBlock(d *enquiryv1.Dossier) block {
	b := block{Heading: "Who can do the work", Text: d.GetWorkshopNotes(), Links: []link{{Label: "Let a dealer see it", Path: v.at("/dealers")}}}
	for _, w := range d.GetWorkshops() {
		e := entry{Term: w.GetTitle(), Text: w.GetDistanceText(), Sub: w.GetReason().GetSentence()}
		if phone := w.GetContact().GetPhone(); phone != "" {
			e.Reach = append(e.Reach, dialled(phone))
		}
		if mail := w.GetContact().GetEmail(); mail != "" {
			e.Reach = append(e.Reach, mailed(mail))
		}
		b.List = append(b.List, e)
	}
	return saidOnce(b)
}

// saidOnce says what is the same below each of several entries above them, once.
func saidOnce(b block) block {
	for _, e := range b.List {
		if e.Sub == "" || e.Sub != b.List[0].Sub || len(b.List) < 2 {
			return b
		}
	}
	if len(b.List) > 1 {
		b.Text = append(slices.Clone(b.Text), "Of each: "+wording.LowerFirst(b.List[0].Sub))
		for i := range b.List {
			b.List[i].Sub = ""
		}
	}
	return b
}

// titles are what the items of a schedule are called, by their identifiers.
func titles(x *schedulev1.Schedule) map[string]string {
	out := map[string]string{}
	for _, i := range x.GetItems() {
		out[i.GetItemId()] = i.GetTitle()
	}
	return out
}

// visitsBlock are the last visits.
func (v *visit) visitsBlock(visits []*schedulev1.ServiceEntry, called map[string]string) block {
	b := block{Heading: "Last visits", Links: []link{{Label: "All of its history", Path: v.at("/history")}}}
	for _, x := range visits {
		b.List = append(b.List, v.workEntry(x, called))
	}
	if len(visits) == 0 {
		b.Text = []string{"No work is on record."}
	}
	return b
}

// workEntry is one service entry in a list; called are the titles of items.
func (v *visit) workEntry(x *schedulev1.ServiceEntry, called map[string]string) entry {
	var items []string
	for _, i := range x.GetItems() {
		items = append(items, cmp.Or(called[i.GetItemId()], i.GetItemId()))
	}
	e := entry{Term: civil(x.GetServiceDate()), Path: v.at("/service/" + bare(x.GetName())), Text: wording.Count(len(items), "item")}
	if r := entered(x.GetReading()); r != "" {
		e.Text += ", odometer " + r
	}
	if x.GetDoneBy() != "" {
		e.Text += ", by " + x.GetDoneBy()
	}
	const named = 3
	e.Sub = someOf(items, named)
	if x.GetNote() != "" {
		e.Sub = strings.TrimSpace(wording.Ended(e.Sub) + " " + wording.Ended(wording.UpperFirst(x.GetNote())))
	}
	if x.GetVoidReason() != "" {
		e.Mark = "struck out"
	}
	return e
}

// reader is how these pages write figures: in the unit of the vehicle's dial.
func reader(unit string) figure.Reader { return figure.Reader{Language: "en", Unit: unitOf(unit)} }

// visitsFigure draws the next two years.
func (v *visit) visitsFigure(d *enquiryv1.Dossier, plan *schedulev1.VisitPlan) template.HTML {
	if plan == nil {
		return ""
	}
	f := figure.Visits{Vehicle: d.GetIdentity().GetSerial(), Today: onDay(plan.GetOnDate()), Months: 24}
	for _, x := range plan.GetVisits() {
		one := figure.Visit{On: onDay(x.GetVisitDate()), Note: x.GetReason().GetSentence()}
		for _, t := range x.GetTasks() {
			one.Items = append(one.Items, t.GetItemId())
		}
		f.Visits = append(f.Visits, one)
	}
	if l := d.GetSchedule().GetLayUp(); l.GetEndDate() != nil {
		f.LayUps = []figure.Span{{From: onDay(l.GetStartDate()), To: onDay(l.GetEndDate())}}
	}
	r := reader(d.GetSchedule().GetPace().GetUnit())
	return figure.Block("visits", r, func(l figure.Layout) figure.Figure { return f.Figure(r, l) })
}

// ledgerFigure draws the distance over the vehicle's life, and the year to come.
func ledgerFigure(serial string, x *schedulev1.Schedule, readings []*schedulev1.Reading) template.HTML {
	p := x.GetPace()
	l := figure.Ledger{Vehicle: serial, Today: onDay(x.GetOnDate()), Chance: 80}
	for _, r := range drawn(readings) {
		at := vehicle.Distance(r.GetLifeDistance().GetMillimetres())
		one := figure.Reading{On: onDay(r.GetReadingDate()), Distance: at, Shown: entered(r.GetValue())}
		switch r.GetState() {
		case schedulev1.ReadingState_READING_STATE_REJECTED:
			continue
		case schedulev1.ReadingState_READING_STATE_DOUBTFUL:
			one.Doubtful, one.Distance = true, vehicle.Distance(r.GetValue().GetMillimetres())
			if e := r.GetExplanations(); len(e) > 0 {
				one.Note = e[0].GetSentence()
			}
		}
		l.Readings = append(l.Readings, one)
	}
	if p.GetCountedReadings() > 0 && p.GetPerYear() != nil {
		now := p.GetEstimatedDistance().GetMillimetres()
		for m := range 13 {
			part := func(year int64) vehicle.Distance { return vehicle.Distance(now + year/12*int64(m)) }
			l.Forecast = append(l.Forecast, figure.FanPoint{On: l.Today.AddMonths(m), Low: part(p.GetLowPerYear().GetMillimetres()),
				Likely: part(p.GetPerYear().GetMillimetres()), High: part(p.GetHighPerYear().GetMillimetres())})
		}
	}
	l.Limits = distanceLimits(x)
	r := reader(p.GetUnit())
	return figure.Block("ledger", r, func(layout figure.Layout) figure.Figure { return l.Figure(r, layout) })
}

// mostDrawn is how many readings a figure shows: with more its points lie upon each
// other.
const mostDrawn = 80

// drawn leaves out readings in between where there are very many: never the first
// or the last, and none that is in doubt.
func drawn(readings []*schedulev1.Reading) []*schedulev1.Reading {
	each := (len(readings) + mostDrawn - 1) / mostDrawn
	var out []*schedulev1.Reading
	for n, r := range readings {
		if n%each == 0 || n == len(readings)-1 || r.GetState() == schedulev1.ReadingState_READING_STATE_DOUBTFUL {
			out = append(out, r)
		}
	}
	return out
}

// mostLimits is how many limits a figure can name.
const mostLimits = 3

// distanceLimits are the next distances at which something is due, the nearest
// first, with what that is.
func distanceLimits(x *schedulev1.Schedule) (limits []figure.DistanceLimit) {
	at := map[vehicle.Distance][]string{}
	for _, i := range x.GetItems() {
		d := vehicle.Distance(i.GetDueDistance().GetMillimetres())
		ahead := d >= vehicle.Distance(x.GetPace().GetLifeDistance().GetMillimetres()) || stateMark(i.GetState()) != ""
		if d > 0 && ahead && !i.GetItem().GetOwnerCheck() {
			at[d] = append(at[d], i.GetItemId())
		}
	}
	const named = 1
	for _, d := range slices.Sorted(maps.Keys(at))[:min(mostLimits, len(at))] {
		limits = append(limits, figure.DistanceLimit{At: d, Name: someOf(at[d], named)})
	}
	return limits
}

// number reads decimal text for a figure; nil for none.
func number(text string) *float64 {
	d, err := vehicle.ParseDecimal(text)
	if err != nil {
		return nil
	}
	f := d.Float64()
	return &f
}

// measuredFigure draws a measured quantity over time.
func measuredFigure(n int, serial string, m *schedulev1.MeasuredSeries, today vehicle.Date) template.HTML {
	f := figure.Measured{Name: quantityName(m.GetPosition(), m.GetCharacteristic()) + ", of " + serial, Unit: m.GetUnit(), Decimals: 2, Today: today, Chance: 80,
		Lower: number(m.GetLimit().GetLower()), Upper: number(m.GetLimit().GetUpper()), Action: number(m.GetLimit().GetAction())}
	for _, x := range m.GetValues() {
		q, err := vehicle.ParseQuantity(quantity(x.GetValue()))
		if err != nil {
			continue
		}
		in, ok := q.In(m.GetUnit())
		if !ok {
			continue
		}
		value, _ := in.Float64()
		f.Values = append(f.Values, figure.Value{Place: figure.Place{On: onDay(x.GetMeasuredDate())}, Value: value, Aside: !x.GetInTrend(), Note: x.GetMeasuredBy()})
	}
	for _, b := range m.GetBreaks() {
		f.Renewals = append(f.Renewals, figure.Renewal{Place: figure.Place{On: onDay(b.GetBreakDate())}, Name: "renewed"})
	}
	if all := m.GetTrend().GetForecasts(); len(all) > 0 && all[0].GetLikelyDate() != nil {
		if at := number(all[0].GetValue().GetValue()); at != nil {
			place := func(d vehicle.Date) figure.Place { return figure.Place{On: d} }
			f.Meets = &figure.Meeting{Limit: *at, Early: place(onDay(all[0].GetEarlyDate())), Likely: place(onDay(all[0].GetLikelyDate())), Late: place(onDay(all[0].GetLateDate()))}
		}
	}
	r := reader("mi")
	return figure.Block(fmt.Sprintf("measured-%d", n), r, func(l figure.Layout) figure.Figure { return f.Figure(r, l) })
}

// someOf names the first of many.
func someOf(items []string, most int) string {
	if n := len(items) - most; n > 1 {
		return strings.Join(items[:most], ", ") + fmt.Sprintf(" and %d more", n)
	}
	return strings.Join(items, ", ")
}
