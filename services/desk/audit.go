package desk

import (
	"net/http"
	"net/url"
	"strconv"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"

	"halfshaft/services/wording"
)

// auditForm filters lines. It changes nothing and is sent by GET, so that a
// search can be handed on as an address.
func auditForm(q url.Values) *form {
	outcomes := []option{{Value: "", Label: "whatever came of it"}}
	for o := accessv1.AuditOutcome_AUDIT_OUTCOME_CHANGED; o <= accessv1.AuditOutcome_AUDIT_OUTCOME_FAILED; o++ {
		outcomes = append(outcomes, option{Value: outcomeWords[o], Label: outcomeWords[o], Chosen: q.Get("outcome") == outcomeWords[o]})
	}
	return &form{ID: "filter", Action: "/audit", Get: true, Submit: "Show", Fields: []field{
		{Name: "actor", Label: "Who", Type: "text", Value: q.Get("actor"), Autocomplete: "off", Hint: "As in ida."},
		{Name: "object", Label: "About", Type: "text", Value: q.Get("object"), Autocomplete: "off", Hint: "As in vehicles/AM0147P or accounts/ida."},
		{Name: "since", Label: "From", Type: "date", Value: q.Get("since")},
		{Name: "until", Label: "To", Type: "date", Value: q.Get("until")},
		{Name: "outcome", Label: "Outcome", Options: outcomes},
	}}
}

func (v *visit) showAudit() {
	q := v.r.URL.Query()
	f := auditForm(q)
	request := &accessv1.ListAuditLinesRequest{PageSize: 100, LatestFirst: true, PageToken: q.Get("page"), Actor: q.Get("actor"), Object: q.Get("object")}
	for o, word := range outcomeWords {
		if q.Get("outcome") == word {
			request.Outcomes = append(request.Outcomes, o)
		}
	}
	if len(q) == 0 {
		// Without a question, the last seven days.
		f.field("since").Value = v.d.Clock().UTC().AddDate(0, 0, -6).Format(time.DateOnly)
	}
	good := true
	for _, x := range []struct {
		name  string
		days  int
		field **timestamppb.Timestamp
	}{{"since", 0, &request.SinceTime}, {"until", 1, &request.UntilTime}} {
		entered := f.field(x.name)
		if entered.Value == "" {
			continue
		}
		day, err := time.Parse(time.DateOnly, entered.Value)
		if err != nil {
			entered.Error, good = "Please enter a day, as in 2026-11-26.", false
			continue
		}
		*x.field = timestamppb.New(day.AddDate(0, 0, x.days))
	}
	blocks := []block{{Form: f}}
	status := http.StatusUnprocessableEntity
	if good {
		list, err := v.d.Audit.ListAuditLines(v.as(), request)
		if err != nil {
			v.refuse(err)
			return
		}
		q.Del("page")
		if len(q) == 0 {
			q.Set("since", f.field("since").Value)
		}
		status = http.StatusOK
		blocks = append(blocks, block{Heading: "Lines, the latest first", Table: linesTable(list.GetLines()), Links: earlier("/audit?"+q.Encode()+"&page=", list.GetNextPageToken())})
	}
	blocks = append(blocks, block{
		Heading: "Prove the audit", Text: []string{"Every line stands in a chain of hashes. The proof reads all of it and names any line that was changed, is missing or is out of its place."},
		Form: &form{ID: "check", Action: "/audit/check", Submit: "Prove it now"},
	})
	v.render(status, view{Title: "Audit", Blocks: blocks})
}

func (v *visit) checkAudit() {
	proof, err := v.d.Audit.CheckAudit(v.as(), &accessv1.CheckAuditRequest{})
	if err != nil {
		v.refuse(err)
		return
	}
	facts := []fact{
		{Label: "Lines read", Value: strconv.FormatInt(proof.GetLines(), 10)},
		{Label: "Last line", Value: strconv.FormatInt(proof.GetCheckpoint().GetSequence(), 10)},
		{Label: "Hash", Value: proof.GetCheckpoint().GetHash(), Mono: true},
	}
	title, text := "The audit is whole", "No line was changed, is missing or is out of its place. Keep number and hash elsewhere: whatever they cover cannot be changed unseen."
	if n := len(proof.GetFaults()); n > 0 {
		title, text = "The audit is not whole", wording.Count(n, "fault")+wording.Verb(n, " was", " were")+" found."
	}
	t := &table{Caption: "Faults", Heads: []string{"Line", "What is wrong"}}
	for _, x := range proof.GetFaults() {
		t.Rows = append(t.Rows, []cell{{Text: strconv.FormatInt(x.GetSequence(), 10), Mono: true}, {Text: x.GetSentence()}})
	}
	blocks := []block{{Text: []string{text}, Facts: facts}}
	if len(t.Rows) > 0 {
		blocks = append(blocks, block{Heading: "Faults", Table: t})
	}
	v.show(title, append(blocks, block{Links: []link{{Label: "Back to the audit", Path: "/audit"}}})...)
}
