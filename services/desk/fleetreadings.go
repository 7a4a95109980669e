package desk

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
)

// mostDoubtful is how many readings a page shows: each with its form.
const mostDoubtful = 20

// showDoubtful lists the readings that nobody has settled.
func (v *visit) showDoubtful() { v.doubtfulPage(http.StatusOK, nil) }

// doubtfulPage shows the queue. sent is the form that was refused, if one was.
func (v *visit) doubtfulPage(status int, sent *form) {
	r, err := v.d.Schedules.ListReadings(v.as(), &schedulev1.ListReadingsRequest{Parent: "vehicles/-", PageSize: mostDoubtful, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	blocks := []block{{Text: []string{"These readings count for nothing until somebody has decided. The likeliest explanation stands first; ring the owner where you are not sure."}}}
	if len(r.GetReadings()) == 0 {
		blocks = []block{{Text: []string{"No reading is in doubt."}}}
	}
	for n, x := range r.GetReadings() {
		f := settleForm("settle-"+strconv.Itoa(n+1), x)
		if sent != nil && sent.field("name").Value == x.GetName() {
			sent.ID, f = f.ID, sent
		}
		blocks = append(blocks, doubtfulBlock(x, f))
	}
	blocks = append(blocks, block{Links: more("/fleet/readings?page=", url.QueryEscape(r.GetNextPageToken()))})
	v.fleetPage(status, "Doubtful readings", blocks...)
}

func doubtfulBlock(x *schedulev1.Reading, f *form) block {
	serial := serialIn(x.GetName())
	b := block{
		Heading: serial + ", read " + civil(x.GetReadingDate()),
		Facts: []fact{
			{Label: "The odometer showed", Value: entered(x.GetValue())},
			{Label: "Read by", Value: word(x.GetSource(), "READING_SOURCE_")},
		},
		Form: f, Links: []link{{Label: "Open " + serial, Path: vehiclePath(serial)}},
	}
	if x.GetNote() != "" {
		b.Facts = append(b.Facts, fact{Label: "Note", Value: x.GetNote()})
	}
	for _, e := range x.GetExplanations() {
		b.List = append(b.List, entry{Text: e.GetSentence()})
	}
	return b
}

// asRead, rejected and corrected are choices besides the explanations.
const (
	asRead    = "as-read"
	rejected  = "rejected"
	corrected = "corrected"
)

// decision is what an explanation would decide, with the value that would count:
// explanations are worked out anew with each reading of the vehicle, and a number
// among them may be another by the time the form comes back.
func decision(e *schedulev1.Explanation) string {
	return strings.TrimSpace(lower(strings.TrimPrefix(e.GetVerdict().String(), "VERDICT_")) + ": " + entered(e.GetWouldRead()))
}

// settleForm asks for the decision about a reading. An explanation is chosen by
// what it decides.
func settleForm(id string, x *schedulev1.Reading) *form {
	var choices []option
	for _, e := range x.GetExplanations() {
		if label := verdictLabel(e); label != "" {
			choices = append(choices, option{Value: decision(e), Label: label, Chosen: len(choices) == 0})
		}
	}
	choices = append(choices,
		option{Value: asRead, Label: "It counts as it was read"},
		option{Value: corrected, Label: "It showed something else: say what"},
		option{Value: rejected, Label: "It does not count"})
	serial := serialIn(x.GetName())
	return &form{ID: id, Action: "/fleet/readings", Submit: "Settle the reading of " + serial, Fields: []field{
		{Name: "name", Type: "hidden", Value: x.GetName()}, {Name: "etag", Type: "hidden", Value: x.GetEtag()},
		{Name: "settlement.verdict", Label: "Decision for " + serial, Options: choices},
		{Name: "settlement.corrected", Label: "What " + serial + " really showed", Type: "text", Inputmode: "decimal", Autocomplete: "off", Hint: "Only where it showed something else."},
		{Name: "settlement.reason", Label: "Why, for " + serial, Type: "text", Autocomplete: "off", Required: true, Hint: "As in: rang the owner, the dial went round in March."},
		requestField(),
	}}
}

// verdictLabel says what an explanation would decide.
func verdictLabel(e *schedulev1.Explanation) string {
	because := strings.ToLower(strings.ReplaceAll(e.GetRule(), "_", " "))
	switch e.GetVerdict() {
	case schedulev1.Verdict_VERDICT_ROLLED_OVER:
		return "The dial went round: " + because
	case schedulev1.Verdict_VERDICT_CORRECTED:
		if e.GetWouldRead() == nil {
			return ""
		}
		return "It showed " + entered(e.GetWouldRead()) + ": " + because
	case schedulev1.Verdict_VERDICT_AS_READ:
		return "It counts: " + because
	case schedulev1.Verdict_VERDICT_REJECTED:
		return "It does not count: " + because
	}
	return ""
}

// settleReading records the decision about a reading.
func (v *visit) settleReading() {
	if !v.readForm() {
		return
	}
	x, err := v.doubtful(v.value("name"))
	if err != nil {
		v.refuse(err)
		return
	}
	if x == nil {
		v.goTo("/fleet/readings") // somebody settled it meanwhile
		return
	}
	entries := typed{visit: v}
	settlement := entries.settlement(x)
	err = entries.err()
	if err == nil {
		_, err = v.d.Schedules.SettleReading(v.as(), &schedulev1.SettleReadingRequest{Name: x.GetName(), Settlement: settlement, Etag: v.value("etag"), RequestId: v.request()})
	}
	if err != nil {
		f := settleForm("settle", x).filled(v)
		v.again(err, f, func(status int) { v.doubtfulPage(status, f) })
		return
	}
	v.goTo("/fleet/readings?done=settled")
}

// settlement reads the decision about a reading.
func (t *typed) settlement(x *schedulev1.Reading) *schedulev1.Settlement {
	s := &schedulev1.Settlement{Reason: t.value("settlement.reason")}
	switch choice := t.value("settlement.verdict"); choice {
	case asRead:
		s.Verdict = schedulev1.Verdict_VERDICT_AS_READ
	case rejected:
		s.Verdict = schedulev1.Verdict_VERDICT_REJECTED
	case corrected:
		s.Verdict = schedulev1.Verdict_VERDICT_CORRECTED
		s.Corrected = t.dial("settlement.corrected", x.GetValue().GetEnteredUnit())
	default:
		n := slices.IndexFunc(x.GetExplanations(), func(e *schedulev1.Explanation) bool { return decision(e) == choice })
		if n < 0 {
			t.wrong = append(t.wrong, fault.Field{Name: "settlement.verdict", Got: choice, Want: "one of the decisions as they are now: what is known of the vehicle changed since this page was loaded"})
			return s
		}
		e := x.GetExplanations()[n]
		if s.Verdict = e.GetVerdict(); s.Verdict == schedulev1.Verdict_VERDICT_CORRECTED {
			s.Corrected = e.GetWouldRead()
		}
	}
	return s
}

// doubtful finds a reading of the queue; nil where it is settled.
func (v *visit) doubtful(name string) (*schedulev1.Reading, error) {
	for token := ""; ; {
		r, err := v.d.Schedules.ListReadings(v.as(), &schedulev1.ListReadingsRequest{Parent: "vehicles/-", PageSize: 500, PageToken: token})
		if err != nil {
			return nil, err
		}
		for _, x := range r.GetReadings() {
			if x.GetName() == name {
				return x, nil
			}
		}
		if token = r.GetNextPageToken(); token == "" {
			return nil, nil
		}
	}
}
