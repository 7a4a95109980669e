package desk

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"

	"halfshaft/services/wording"
)

// handbookRoutes are the pages of a vehicle's handbook.
func handbookRoutes() []Route {
	return []Route{
		{"GET /vehicles/{serial}/handbook", Readers, (*visit).showHandbook},
		{"POST /vehicles/{serial}/handbook/issue", Staff, (*visit).issueHandbook},
		{"POST /vehicles/{serial}/handbook/send", Support, (*visit).sendHandbook},
		{"GET /vehicles/{serial}/handbook/{issue}/{file}", Readers, (*visit).handbookFile},
	}
}

// handbookBlock says on the page of a vehicle which handbook it has, and leads to
// what can be done about it.
func (v *visit) handbookBlock() block {
	b := block{Heading: "Handbook", Links: []link{{Label: "Send the handbook", Path: v.at("/handbook")}}}
	if !v.writesPeople() {
		b.Links[0].Label = "Look at the handbook"
	}
	all, err := v.d.Handbooks.ListHandbookIssues(v.as(), &handbookv1.ListHandbookIssuesRequest{Parent: v.vehicle(), PageSize: 1})
	switch issues := all.GetHandbookIssues(); {
	case err != nil:
		b.Text = []string{"Whether it has one cannot be asked at the moment."}
	case len(issues) == 0:
		b.Text = []string{"None was issued yet."}
	default:
		b.Text = []string{"Issue " + bare(issues[0].GetName()) + " of " + day(issues[0].GetCreateTime()) + "."}
		b.Links = append(b.Links, link{Label: "Read issue " + bare(issues[0].GetName()), Path: v.at("/handbook/" + bare(issues[0].GetName()) + "/handbook.html")})
	}
	return b
}

func (v *visit) showHandbook() {
	v.handbookPage(http.StatusOK, nil)
}

// handbookPage is what the handbook would be now, what can be done about it, and
// what was issued and sent. A form with faults takes the place of the one like it.
func (v *visit) handbookPage(status int, wrong *form) {
	now, err := v.d.Handbooks.GetHandbookPreview(v.as(), &handbookv1.GetHandbookPreviewRequest{Name: v.vehicle() + "/handbook"})
	if err != nil {
		v.refuse(err)
		return
	}
	issues, err := v.d.Handbooks.ListHandbookIssues(v.as(), &handbookv1.ListHandbookIssuesRequest{
		Parent: v.vehicle(), PageSize: 20, PageToken: v.r.URL.Query().Get("page"),
	})
	if err != nil {
		v.refuse(err)
		return
	}
	blocks := []block{v.handbookNow(now)}
	var contacts []*enquiryv1.DossierContact
	if v.staff() {
		if contacts, err = v.contacts(); err != nil {
			v.refuse(err)
			return
		}
	}
	if v.writesPeople() {
		f := v.sendForm(now, contacts)
		blocks = append(blocks, block{Heading: "Send it", Form: chosen(f, wrong)})
	}
	if v.staff() && len(now.GetProblems()) == 0 && changed(now) {
		blocks = append(blocks, block{Heading: "Issue it and send nothing", Form: chosen(v.issueForm(), wrong)})
	}
	blocks = append(blocks, v.issuesBlock(issues))
	if v.staff() {
		sent, err := v.sentHandbooks(contacts)
		if err != nil {
			v.refuse(err)
			return
		}
		blocks = append(blocks, sent)
	}
	v.ofVehicle(status, "handbook", append(blocks, choicesBlock(now))...)
}

// chosen is a form, or the one like it that came back with faults.
func chosen(f, wrong *form) *form {
	if wrong != nil && wrong.ID == f.ID {
		return wrong
	}
	return f
}

// changed reports whether the next issue would be another than the last.
func changed(now *handbookv1.HandbookPreview) bool {
	return now.GetLastIssue() == "" || len(now.GetChanges()) > 0
}

// handbookNow says what the handbook would be if it were issued today, and how
// that differs from the last issue.
func (v *visit) handbookNow(now *handbookv1.HandbookPreview) block {
	b := block{Heading: "As the vehicle is now"}
	last := bare(now.GetLastIssue())
	switch n := len(now.GetChanges()); {
	case len(now.GetProblems()) > 0:
		b.Text = append(b.Text, "It cannot be issued, because values are missing. Put them on record first.")
	case last == "":
		b.Text = append(b.Text, "No handbook was issued yet. Sending it issues the first one.")
	case n == 0:
		b.Text = append(b.Text, "Nothing has changed since issue "+last+": sending it sends that one.")
	default:
		b.Text = append(b.Text, wording.Count(n, "section")+" would not be as in issue "+last+". Sending it issues the next one first.")
	}
	for _, problem := range now.GetProblems() {
		b.List = append(b.List, entry{Mark: "missing", Text: problem})
	}
	for _, c := range now.GetChanges() {
		b.List = append(b.List, changeEntry(c))
	}
	if len(now.GetProblems()) == 0 && changed(now) {
		b.Links = v.handbookLinks("preview", "it as it would be now")
	}
	return b
}

func changeEntry(c *handbookv1.HandbookChange) entry {
	kinds := map[handbookv1.HandbookChangeKind]string{
		handbookv1.HandbookChangeKind_HANDBOOK_CHANGE_KIND_ADDED: "new", handbookv1.HandbookChangeKind_HANDBOOK_CHANGE_KIND_REMOVED: "left out",
		handbookv1.HandbookChangeKind_HANDBOOK_CHANGE_KIND_CHANGED: "other",
	}
	return entry{Mark: kinds[c.GetKind()], Soon: true, Term: c.GetTitle(), Sub: c.GetSentence()}
}

// choicesBlock says of each section that not every vehicle has why it is in or is
// not.
func choicesBlock(now *handbookv1.HandbookPreview) block {
	b := block{Heading: "Sections that hang on the vehicle", Fold: "Which are in it, which are not, and why"}
	for _, c := range now.GetChoices() {
		e := entry{Mark: "in", Soon: true, Term: c.GetTitle(), Sub: c.GetReason().GetSentence()}
		if !c.GetIncluded() {
			e.Mark = "not in"
		}
		b.List = append(b.List, e)
	}
	if len(b.List) == 0 {
		b.Text = []string{"Every section is for all vehicles."}
	}
	return b
}

// issuesBlock lists what was issued, each to be read and to be printed.
func (v *visit) issuesBlock(all *handbookv1.ListHandbookIssuesResponse) block {
	b := block{Heading: "Issued", Links: more(v.at("/handbook?page="), all.GetNextPageToken())}
	for _, i := range all.GetHandbookIssues() {
		n := bare(i.GetName())
		e := entry{Term: "Issue " + n, Text: day(i.GetCreateTime()), Action: v.handbookLinks(n, "issue "+n), MoreLabel: "What is different in it"}
		e.Sub = wording.Ended(wording.UpperFirst(i.GetText()))
		if i.GetIssuedBy() != "" {
			e.Sub = strings.TrimSpace(e.Sub + " Issued by " + i.GetIssuedBy() + ".")
		}
		for _, c := range i.GetChanges() {
			x := changeEntry(c)
			e.More = append(e.More, strings.TrimSpace(wording.UpperFirst(x.Mark)+": "+x.Term+". "+x.Sub))
		}
		b.List = append(b.List, e)
	}
	if len(b.List) == 0 {
		b.Text = []string{"None yet."}
	}
	return b
}

// handbookPapers are the papers that a handbook is set on.
var handbookPapers = []string{"A5", "A4", "Letter"}

// handbookLinks lead to the forms of one issue.
func (v *visit) handbookLinks(issue, which string) []link {
	at := v.at("/handbook/" + issue + "/")
	links := []link{{Label: "Read " + which, Path: at + "handbook.html"}}
	which = strings.TrimPrefix(which, "it ")
	for _, paper := range handbookPapers {
		links = append(links, link{Label: wording.UpperFirst(which) + ", " + paper, Path: at + paper + ".pdf"})
	}
	return links
}

// sendForm asks who gets it and how. Whoever only pays for the vehicle gets none.
func (v *visit) sendForm(now *handbookv1.HandbookPreview, contacts []*enquiryv1.DossierContact) *form {
	to := []option{{Value: "", Label: "everybody who owns it"}}
	for _, c := range contacts {
		if t := c.GetTie(); t.GetRole() != ownerv1.Role_ROLE_PAYER {
			to = append(to, option{Value: t.GetPerson(), Label: contactWords(c)})
		}
	}
	f := &form{ID: "send", Action: v.at("/handbook/send"), Submit: "Send the handbook", Fields: []field{
		{Name: "person", Label: "Send it to", Options: to},
		{Name: "channel", Label: "By", Options: []option{
			{Value: "", Label: "the way that they like best"}, {Value: "MAIL", Label: "mail, with a link"},
			{Value: "TEXT", Label: "text message, with a link"}, {Value: "LETTER", Label: "letter, which says how to get it"}}},
	}}
	if changed(now) {
		f.Fields = append(f.Fields, whyField())
	}
	f.Fields = append(f.Fields, requestField())
	return f
}

// nameOf is what somebody is called; their number where no name is at hand.
func nameOf(contacts []*enquiryv1.DossierContact, person string) string {
	for _, c := range contacts {
		if c.GetTie().GetPerson() == person && c.GetPerson().GetFullName() != "" {
			return c.GetPerson().GetFullName()
		}
	}
	return bare(person)
}

func whyField() field {
	return field{Name: "text", Label: "Why it is issued", Type: "text", Autocomplete: "off", Hint: "It is printed in it, so without names: as in the winch that was fitted."}
}

func (v *visit) issueForm() *form {
	return &form{ID: "issue", Action: v.at("/handbook/issue"), Submit: "Issue the handbook", Fields: []field{whyField(), requestField()}}
}

func (v *visit) issueHandbook() {
	if !v.readForm() {
		return
	}
	_, err := v.d.Handbooks.IssueHandbook(v.as(), &handbookv1.IssueHandbookRequest{Parent: v.vehicle(), Text: v.value("text"), RequestId: v.request()})
	if err != nil {
		f := v.issueForm().filled(v)
		v.again(err, f, func(status int) { v.handbookPage(status, f) })
		return
	}
	v.goTo(v.at("/handbook?done=handbook-issued"))
}

func (v *visit) sendHandbook() {
	if !v.readForm() {
		return
	}
	sent, err := v.d.Reminders.SendHandbook(v.as(), &reminderv1.SendHandbookRequest{
		Parent: v.vehicle(), Person: v.value("person"), Text: v.value("text"), RequestId: v.request(),
		Channel: reminderv1.Channel(reminderv1.Channel_value["CHANNEL_"+v.value("channel")]),
	})
	if err != nil {
		now, asked := v.d.Handbooks.GetHandbookPreview(v.as(), &handbookv1.GetHandbookPreviewRequest{Name: v.vehicle() + "/handbook"})
		contacts, known := v.contacts()
		if asked != nil || known != nil {
			v.refuse(err)
			return
		}
		f := v.sendForm(now, contacts).filled(v)
		v.again(err, f, func(status int) { v.handbookPage(status, f) })
		return
	}
	done := "handbook-sent"
	if len(sent.GetMissed()) > 0 {
		done = "handbook-sent-some"
	}
	v.goTo(v.at("/handbook?done=" + done))
}

// sentHandbooks lists who was sent a handbook, the latest first, and whether it
// went out.
func (v *visit) sentHandbooks(contacts []*enquiryv1.DossierContact) (block, error) {
	b := block{Heading: "Sent"}
	var sent []*reminderv1.Notice
	ask := &reminderv1.ListNoticesRequest{Parent: v.vehicle(), PageSize: 500}
	for {
		all, err := v.d.Reminders.ListNotices(v.as(), ask)
		if err != nil {
			return b, err
		}
		for _, n := range all.GetNotices() {
			if n.GetPurpose() == ownerv1.Purpose_PURPOSE_HANDBOOK {
				sent = append(sent, n)
			}
		}
		if all.GetNextPageToken() == "" {
			break
		}
		ask = &reminderv1.ListNoticesRequest{Parent: v.vehicle(), PageSize: 500, PageToken: all.GetNextPageToken()}
	}
	slices.SortFunc(sent, func(a, b *reminderv1.Notice) int { return b.GetClaimTime().AsTime().Compare(a.GetClaimTime().AsTime()) })
	for _, n := range sent {
		b.List = append(b.List, sentEntry(n, nameOf(contacts, n.GetPerson())))
	}
	if len(b.List) == 0 {
		b.Text = []string{"It was sent to nobody yet."}
	}
	return b, nil
}

// sentEntry says of one message which issue it was about, and where it stands.
func sentEntry(n *reminderv1.Notice, to string) entry {
	issue := ""
	for _, l := range n.GetLines() {
		number, _, _ := strings.Cut(strings.TrimPrefix(l.GetCycle(), "HANDBOOK."), "-")
		issue = "Issue " + number
	}
	way := word(n.GetChannel(), "CHANNEL_")
	e := entry{Term: day(n.GetClaimTime()), Text: fmt.Sprintf("%s to %s by %s", issue, to, way)}
	switch n.GetState() {
	case reminderv1.NoticeState_NOTICE_STATE_SENT:
		e.Sub = "Gone out on " + moment(n.GetSendTime()) + "."
	case reminderv1.NoticeState_NOTICE_STATE_PARKED:
		e.Mark, e.Sub = "not delivered", wording.Ended(wording.UpperFirst(n.GetServerAnswer()))
	case reminderv1.NoticeState_NOTICE_STATE_SILENCED:
		e.Mark, e.Sub = "not sent", "They have the vehicle no longer, or the way was closed, before it went out."
	default:
		e.Mark, e.Soon, e.Sub = "waits", true, "It goes out by itself."
		if way == "letter" {
			e.Sub = "It waits to be printed and posted."
		}
	}
	return e
}
