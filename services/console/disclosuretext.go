package console

import (
	"halfshaft/services/disclosure"
	"halfshaft/services/vehicle"
)

func statementText(s *sheet, v *disclosure.Vehicle, x disclosure.Statement) {
	s.line("%s, transfer on %s", v.Serial, x.On.Long())
	for _, e := range x.Exemptions {
		label := "  model year  "
		s.text(label, e.Reason.Sentence+whyThatYear(e))
	}
	s.text("  needed      ", x.Needed)
	s.line("  statement   %s", kindWords[x.Kind])
	for _, r := range x.Reasons {
		s.text("  why         ", r.Sentence)
	}
	if x.Kind == disclosure.Undecided && len(v.Waiting) > 0 {
		s.text("  to decide   ", "halfshaft readings "+string(v.Serial)+", which says for each what may be behind it; then halfshaft settle")
	}
	draftText(s, x.Draft)
}

// whyThatYear says why a model year is looked at.
func whyThatYear(e disclosure.Exemption) string {
	if e.Basis == "" {
		return ""
	}
	return " That is so " + e.Basis + "."
}

// kindWords say which statement the record bears out.
var kindWords = map[disclosure.Kind]string{
	disclosure.Actual:    "the reading is the actual mileage, as far as is known",
	disclosure.Beyond:    "the reading is beyond the mechanical limits",
	disclosure.NotActual: "the reading is NOT the actual mileage",
	disclosure.Undecided: "NOT READY: the record does not tell",
}

func noticesText(s *sheet, v *disclosure.Vehicle, notices []disclosure.Notice, on vehicle.Date) {
	if len(notices) == 0 {
		s.line("%s: no other odometer is on record by %s, so no notice is needed.", v.Serial, on.Long())
		s.text("  ", "If one was fitted, record it first: halfshaft record change "+string(v.Serial)+
			" dial --digits N --unit UNIT --turns-per-unit N --start VALUE --reading VALUE --on DAY --source service --reason WHY")
		return
	}
	for _, n := range notices {
		s.heading("%s, odometer replaced on %s", v.Serial, n.Replacement.On.Long())
		for _, r := range n.Reasons {
			s.text("  why         ", r.Sentence)
		}
		if n.Replacement.Why != "" {
			s.text("  recorded    ", n.Replacement.Why)
		}
		draftText(s, n.Draft)
	}
}

// draftText prints the text itself apart from what is said about it.
func draftText(s *sheet, d disclosure.Draft) {
	if d.Title != "" {
		s.heading("%s", d.Title)
	}
	for _, l := range d.Lines {
		s.line("")
		s.text("  | ", l)
	}
	s.line("")
	for _, l := range d.Law {
		s.text("  LAW     ", l)
	}
	if d.Caution != "" {
		s.text("  CAUTION ", d.Caution)
	}
}

// exemptionAnswer, statementJSON and noticeJSON are the drafts for scripts.
type exemptionAnswer struct {
	ModelYear  int          `json:"modelYear"`
	Basis      string       `json:"basis,omitempty"`
	Exempt     bool         `json:"exempt"`
	ExemptFrom vehicle.Date `json:"exemptFrom"`
	Reason     string       `json:"reason"`
}

type statementJSON struct {
	Serial     vehicle.Serial    `json:"serial"`
	On         vehicle.Date      `json:"on"`
	Exemptions []exemptionAnswer `json:"exemptions"`
	Needed     string            `json:"needed"`
	Statement  disclosure.Kind   `json:"statement"`
	draftJSON
}

type noticeJSON struct {
	Serial     vehicle.Serial `json:"serial"`
	ReplacedOn vehicle.Date   `json:"replacedOn"`
	Needed     bool           `json:"needed"`
	draftJSON
}

type draftJSON struct {
	Reasons []string `json:"reasons"`
	Title   string   `json:"title,omitempty"`
	Lines   []string `json:"lines,omitempty"`
	Law     []string `json:"law"`
	Caution string   `json:"caution,omitempty"`
}

func statementAnswer(v *disclosure.Vehicle, x disclosure.Statement) statementJSON {
	answer := statementJSON{Serial: v.Serial, On: x.On, Needed: x.Needed, Statement: x.Kind, draftJSON: draftAnswer(x.Draft, x.Reasons)}
	for _, e := range x.Exemptions {
		answer.Exemptions = append(answer.Exemptions, exemptionAnswer{e.ModelYear, e.Basis, e.Exempt, e.From, e.Reason.Sentence})
	}
	return answer
}

func noticeAnswer(v *disclosure.Vehicle, n disclosure.Notice) noticeJSON {
	return noticeJSON{Serial: v.Serial, ReplacedOn: n.Replacement.On, Needed: n.Needed, draftJSON: draftAnswer(n.Draft, n.Reasons)}
}

func draftAnswer(d disclosure.Draft, reasons []vehicle.Reason) draftJSON {
	answer := draftJSON{Title: d.Title, Lines: d.Lines, Law: d.Law, Caution: d.Caution}
	for _, r := range reasons {
		answer.Reasons = append(answer.Reasons, r.Sentence)
	}
	return answer
}
