package desk

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"

	accessv1 "halfshaft/proto/halfshaft/access/v1"

	"halfshaft/services/wording"
)

// linesTable lists lines of the audit, the latest first, under their days.
func linesTable(lines []*accessv1.AuditLine) *table {
	t := &table{Caption: "Lines", Plain: true, Heads: []string{"Time, UTC", "What", "Who", "Outcome"}, Empty: "There is no such line."}
	t.byDay(lines, func(l *accessv1.AuditLine) []cell {
		return []cell{timeCell(l), whatCell(l), whoCell(l), outcomeCell(l)}
	})
	return t
}

// historyTable tells what became of an object.
func historyTable(lines []*accessv1.AuditLine) *table {
	t := &table{Caption: "What became of it", Plain: true, Heads: []string{"Time, UTC", "What happened"}, Empty: "Nothing is on record that changed it."}
	t.byDay(lines, func(l *accessv1.AuditLine) []cell { return []cell{timeCell(l), {Text: story(l), Sub: by(l)}} })
	return t
}

// byDay adds a row for each line, and one with the day before the first of it.
// Lines past their time have no day any more.
func (t *table) byDay(lines []*accessv1.AuditLine, row func(*accessv1.AuditLine) []cell) {
	last := ""
	for _, l := range lines {
		on := "Longer ago than texts are kept"
		if l.GetLineTime() != nil {
			on = l.GetLineTime().AsTime().UTC().Format("Monday, 2 January 2006")
		}
		if on != last {
			t.Rows = append(t.Rows, []cell{{Text: on, Over: true}})
			last = on
		}
		t.Rows = append(t.Rows, row(l))
	}
}

// timeCell gives the time of the day in UTC, and the line's number.
func timeCell(l *accessv1.AuditLine) cell {
	c := cell{Sub: "not numbered yet"}
	if n := l.GetSequence(); n > 0 {
		c.Sub = "No. " + strconv.FormatInt(n, 10)
	}
	if l.GetLineTime() != nil {
		c.Text = l.GetLineTime().AsTime().UTC().Format("15:04")
	}
	return c
}

func whatCell(l *accessv1.AuditLine) cell {
	if l.GetText() == "" {
		return cell{Text: "Past the time that its text is kept; its place in the chain stays."}
	}
	what := cell{Text: l.GetDeed()}
	if objects := l.GetObjects(); len(objects) > 0 {
		what.Path = "/audit/history?parent=" + url.QueryEscape(objects[0])
		if l.GetOutcome() != accessv1.AuditOutcome_AUDIT_OUTCOME_READ { // that names it already
			what.Sub = thing(objects[0])
		}
		if more := len(objects) - 1; more > 0 {
			what.Sub += " and " + wording.Count(more, "other")
		}
	}
	return what
}

func whoCell(l *accessv1.AuditLine) cell {
	who := cell{Text: l.GetActor(), Sub: proof(l.GetCredential())}
	if who.Text == "" {
		who.Text = "somebody unknown"
	}
	if l.GetNetwork() != "" {
		who.Sub = strings.TrimSpace(who.Sub + " from " + l.GetNetwork())
	}
	return who
}

func outcomeCell(l *accessv1.AuditLine) cell {
	c := cell{Text: outcomeWords[l.GetOutcome()], Sub: strings.ToLower(strings.ReplaceAll(l.GetErrorReason(), "_", " "))}
	if l.GetCount() > 1 {
		c.Text += fmt.Sprintf(", %d times", l.GetCount())
	}
	return c
}

// story tells a change in a sentence.
func story(l *accessv1.AuditLine) string {
	if l.GetText() == "" {
		return whatCell(l).Text
	}
	text := l.GetDeed()
	if l.GetOutcome() == accessv1.AuditOutcome_AUDIT_OUTCOME_FAILED {
		text += ", which failed and may have changed something"
	}
	if because := strings.TrimRight(strings.TrimSpace(l.GetBecause()), "."); because != "" {
		text += ", because " + because
	}
	return text + "."
}

// by says who did something.
func by(l *accessv1.AuditLine) string {
	if l.GetActor() == "" {
		return ""
	}
	return "by " + l.GetActor()
}

// shortSession is how much of a session's name tells it from others on a page.
const shortSession = 6

// proof says how somebody showed who they are.
func proof(credential string) string {
	kind, id, _ := strings.Cut(credential, "/")
	switch kind {
	case "sessions":
		return "session " + id[:min(len(id), shortSession)]
	case "keys":
		return "key " + id
	case "socket":
		return "on the machine"
	case "process":
		return "for itself"
	case "link":
		return "by a link"
	case "invitation":
		return "by an invitation"
	}
	return credential
}

// things are what people call what a resource name names.
var things = map[string]string{
	"accounts": "account", "people": "person", "vehicles": "vehicle", "builds": "vehicle", "keys": "key",
	"organisations": "organisation",
}

// thing says a resource name in words: "account ida", "vehicle AM0147P,
// assignments/0192f0".
func thing(name string) string {
	kind, rest, _ := strings.Cut(name, "/")
	word := things[kind]
	if word == "" || rest == "" {
		return name
	}
	id, below, more := strings.Cut(rest, "/")
	if more {
		return word + " " + id + ", " + below
	}
	return word + " " + id
}

func (v *visit) showHistory() {
	parent := v.r.URL.Query().Get("parent")
	list, err := v.d.Audit.ListHistory(v.as(), &accessv1.ListHistoryRequest{Parent: parent, PageSize: 100, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	links := append(earlier("/audit/history?parent="+url.QueryEscape(parent)+"&page=", list.GetNextPageToken()),
		link{Label: "Who read it and who was refused, too", Path: "/audit?object=" + url.QueryEscape(parent)},
		link{Label: "Back to the audit", Path: "/audit"})
	v.show("What became of the "+thing(parent), block{Text: []string{"The latest first."}, Table: historyTable(list.GetLines()), Links: links})
}

// earlier is the link to what is further back, if there is more.
func earlier(path, token string) []link {
	if token == "" {
		return nil
	}
	return []link{{Label: "Further back", Path: path + url.QueryEscape(token)}}
}
