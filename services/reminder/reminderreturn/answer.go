package reminderreturn

import (
	"regexp"
	"strings"
)

// complaint reads a feedback report. RFC 5965 has the types abuse, fraud,
// virus and other. Of the later types, not-spam (RFC 6430) takes a complaint
// back and auth-failure (RFC 6591) tells of signatures: neither is one.
func (m *incoming) complaint() Report {
	kind := strings.ToLower(firstWord(m.feedback.Get("Feedback-Type")))
	recipient := typed(m.feedback.Get("Original-Rcpt-To"))
	r := Report{Kind: complaint, Text: clean("a complaint: "+kind, recipient), Recipient: recipient}
	if kind == "not-spam" || kind == "auth-failure" || kind == "dmarc" {
		r.Kind, r.Text = autoReply, "a report of a provider that is no complaint: "+kind
	}
	return r
}

// Words by which mail servers are known that send a text in place of a report.
// All of this is common practice; only the first has a document: QSBMF
// (cr.yp.to/proto/qsbmf.txt) begins each bounce with these words.
var (
	qsbmf       = regexp.MustCompile(`^\s*Hi\. This is the `)
	mailerSends = regexp.MustCompile(`(?i)\bmailer-daemon\b`)
	stillTrying = regexp.MustCompile(`(?i)\bdelayed\b|\bwarning only\b|\bnot yet (?:been )?delivered\b|\bwill (?:be retried|keep trying|continue to)|\bdo not need to resend\b`)
	copyBegins  = regexp.MustCompile(`(?im)^-{2,}.*(?:copy|original|below this line|returned message).*$`)
	saysCode    = regexp.MustCompile(`(?:^|[\s:(])(?:[45][0-9][0-9][ -]|[45]\.[0-9]{1,3}\.[0-9]{1,3}\b)`)
)

// isServers reports whether a mail server speaks although there is no report
// that we can read: no report carries a recipient, or it is of before reports.
func (m *incoming) isServers() bool {
	if m.isReport || m.head.Has("X-Failed-Recipients") || qsbmf.MatchString(m.text) || mailerSends.MatchString(m.head.Get("From")) {
		return true
	}
	// A null sender answers nothing (RFC 5321 section 4.5.5): a server, or a
	// machine that says of itself that it answers.
	return strings.ReplaceAll(m.head.Get("Return-Path"), " ", "") == "<>" && !m.isAutomatic()
}

// plainReport makes the best of a text. The message is never taken for dead by
// words alone; whether it is still under way matters, or it would be told twice.
func (m *incoming) plainReport() Report {
	own := m.text
	if at := copyBegins.FindStringIndex(own); at != nil {
		own = own[:at[0]]
	}
	r := Report{Kind: givenUp, Text: "a text of a mail server without a report", Recipient: m.head.Get("X-Failed-Recipients")}
	for line := range strings.Lines(own) {
		if saysCode.MatchString(line) {
			r.Status = statusIn(line)
			r.Text = clean(line, append(strings.Split(r.Recipient, ","), addressesIn(own)...)...)
			break
		}
	}
	subject, _ := m.head.Text("Subject")
	if stillTrying.MatchString(subject) || stillTrying.MatchString(own) && r.Status == "" {
		r.Kind = delayed
	}
	return r
}

// Signs of machines beside Auto-Submitted: common practice, no source, and used
// only where that field is missing.
var (
	machineFields  = []string{"X-Autoreply", "X-Autorespond", "X-Autoresponder", "X-Autoresponse", "X-Auto-Response-Suppress", "X-Auto-Reply"}
	machineOrder   = regexp.MustCompile(`(?i)^\s*(?:auto_reply|bulk|junk)\s*$`)
	machineSubject = regexp.MustCompile(`(?i)^\s*(?:auto:|automatic reply|auto(?:matic)?[- ]?(?:reply|response)|out of (?:the )?office|abwesenheit|automatische antwort|réponse automatique|absence du bureau|respuesta automática)`)
)

// isAutomatic reports whether a machine answered for the recipient. RFC 3834
// section 5: any value of Auto-Submitted but "no" says so; section 3.1.5: the
// subject begins with "Auto:".
func (m *incoming) isAutomatic() bool {
	if value := firstWord(m.head.Get("Auto-Submitted")); value != "" {
		return !strings.EqualFold(value, "no")
	}
	for _, field := range machineFields {
		if m.head.Has(field) {
			return true
		}
	}
	subject, _ := m.head.Text("Subject")
	return machineOrder.MatchString(m.head.Get("Precedence")) || machineSubject.MatchString(subject)
}
