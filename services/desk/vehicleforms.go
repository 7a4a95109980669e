package desk

import (
	"cmp"
	"net/http"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
)

var readingSources = []option{{Value: "OWNER", Label: "its owner"}, {Value: "DEALER", Label: "a dealer or mechanic"}, {Value: "WORKS", Label: "the works"}, {Value: "INSPECTION", Label: "an official inspection"}}

func (v *visit) readingForm() *form {
	return &form{ID: "reading", Action: v.at("/readings/new"), Submit: "Record the reading", Fields: []field{
		{Name: "reading.value", Label: "What the odometer shows", Type: "text", Inputmode: "decimal", Required: true, Autocomplete: "off", Hint: "In the unit of its dial; another is said behind it, as in 66350 km."},
		{Name: "reading.reading_date", Label: "Read on", Type: "date", Hint: "Left empty, it is today."},
		{Name: "reading.source", Label: "Who read it", Options: append([]option(nil), readingSources...)},
		{Name: "reading.note", Label: "Note", Type: "text", Autocomplete: "off"}, requestField(),
	}}
}

func (v *visit) showNewReading() { v.formPage(http.StatusOK, "Record a reading", v.readingForm()) }

func (v *visit) recordReading() {
	if !v.readForm() {
		return
	}
	x, err := v.schedule()
	if err != nil {
		v.refuse(err)
		return
	}
	t := &typed{visit: v}
	r := &schedulev1.Reading{
		Value: t.dial("reading.value", x.GetPace().GetUnit()), ReadingDate: t.date("reading.reading_date"),
		Source: schedulev1.ReadingSource(schedulev1.ReadingSource_value["READING_SOURCE_"+v.value("reading.source")]), Note: v.value("reading.note"),
	}
	made := &schedulev1.Reading{}
	if err = t.err(); err == nil {
		made, err = v.d.Schedules.RecordReading(v.as(), &schedulev1.RecordReadingRequest{Parent: v.vehicle(), Reading: r, RequestId: v.request()})
	}
	if err != nil {
		f := v.readingForm().filled(v)
		v.again(err, f, func(status int) { v.formPage(status, "Record a reading", f) })
		return
	}
	if made.GetState() == schedulev1.ReadingState_READING_STATE_DOUBTFUL && v.staff() {
		v.goTo(v.at("/readings/" + bare(made.GetName()) + "?done=reading"))
		return
	}
	v.goTo(v.at("?done=reading"))
}

// reading finds the reading that the address names.
func (v *visit) reading() (*schedulev1.Reading, error) {
	all, err := v.readings()
	if err != nil {
		return nil, err
	}
	for _, r := range all {
		if bare(r.GetName()) == v.r.PathValue("reading") {
			return r, nil
		}
	}
	return nil, fault.New(fault.NotFound, "NO_READING", "there is no such reading of this vehicle")
}

// verdictWords are the decisions about a reading, in the words of the form and of
// the advice beside it.
var verdictWords = map[schedulev1.Verdict]string{
	schedulev1.Verdict_VERDICT_AS_READ: "It counts as it was read", schedulev1.Verdict_VERDICT_ROLLED_OVER: "It counts: the dial went round",
	schedulev1.Verdict_VERDICT_CORRECTED: "It counts with the corrected value", schedulev1.Verdict_VERDICT_REJECTED: "It does not count",
}

func (v *visit) settleForm(r *schedulev1.Reading) *form {
	verdicts := []option{{Label: toChoose}}
	for _, x := range []schedulev1.Verdict{schedulev1.Verdict_VERDICT_AS_READ, schedulev1.Verdict_VERDICT_ROLLED_OVER, schedulev1.Verdict_VERDICT_CORRECTED, schedulev1.Verdict_VERDICT_REJECTED} {
		verdicts = append(verdicts, option{Value: strings.TrimPrefix(x.String(), "VERDICT_"), Label: verdictWords[x]})
	}
	return &form{ID: "settle", Action: v.at("/readings/" + v.r.PathValue("reading")), Submit: "Settle the reading", Fields: []field{
		{Name: "settlement.verdict", Label: "Decision", Options: verdicts},
		{Name: "settlement.corrected", Label: "Corrected value", Type: "text", Inputmode: "decimal", Autocomplete: "off", Hint: "Only where it was really another."},
		{Name: "settlement.reason", Label: "Why", Type: "text", Autocomplete: "off", Required: true, Hint: "Without names."},
		{Name: "etag", Type: "hidden", Value: r.GetEtag()}, requestField(),
	}}
}

func (v *visit) showSettle() {
	r, err := v.reading()
	if err != nil {
		v.refuse(err)
		return
	}
	v.settlePage(http.StatusOK, r, v.settleForm(r))
}

func (v *visit) settlePage(status int, r *schedulev1.Reading, f *form) {
	b := block{Facts: []fact{{Label: "Read", Value: entered(r.GetValue())}, {Label: "On", Value: civil(r.GetReadingDate())}, {Label: "State", Value: word(r.GetState(), "READING_STATE_")}}}
	if r.GetNote() != "" {
		b.Facts = append(b.Facts, fact{Label: "Note", Value: r.GetNote()})
	}
	for _, e := range r.GetExplanations() {
		x := entry{Text: e.GetSentence()}
		if e.GetVerdict() != schedulev1.Verdict_VERDICT_UNSPECIFIED {
			x.Sub = "Decision: " + cmp.Or(verdictWords[e.GetVerdict()], word(e.GetVerdict(), "VERDICT_")) + "."
		}
		b.List = append(b.List, x)
	}
	v.formPage(status, "Settle a reading", f, b, v.odometerWays())
}

func (v *visit) settle() {
	if !v.readForm() {
		return
	}
	r, err := v.reading()
	if err != nil {
		v.refuse(err)
		return
	}
	x, err := v.schedule()
	if err != nil {
		v.refuse(err)
		return
	}
	t := &typed{visit: v}
	s := &schedulev1.Settlement{Corrected: t.dial("settlement.corrected", x.GetPace().GetUnit()), Reason: v.value("settlement.reason"),
		Verdict: schedulev1.Verdict(schedulev1.Verdict_value["VERDICT_"+v.value("settlement.verdict")])}
	if err = t.err(); err == nil {
		_, err = v.d.Schedules.SettleReading(v.as(), &schedulev1.SettleReadingRequest{Name: r.GetName(), Settlement: s, Etag: v.value("etag"), RequestId: v.request()})
	}
	if err != nil {
		f := v.settleForm(r).filled(v)
		v.again(err, f, func(status int) { v.settlePage(status, r, f) })
		return
	}
	v.goTo(v.at("?done=settled"))
}
