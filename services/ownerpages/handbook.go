package ownerpages

import (
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
)

// handbookPage shows one issue of the handbook.
type handbookPage struct {
	Title         string   // what the handbook is called
	Language      string   // of the handbook
	Facts         []string // which issue it is
	Read          press    // opens it as a page
	Files         []fileView
	ChangesTitle  string
	Changes, More []changeView // More is opened by a press
	Others        []press
}

// fileView is a file to keep and print.
type fileView struct {
	press
	About string
}

// changeView is a section that is not as it was. What stands in the handbook is
// in its language.
type changeView struct{ Kind, Title, Sentence, Language string }

// handbookPapers are the papers of a handbook, the one for the door pocket first.
var handbookPapers = []struct{ paper, label string }{
	{"A5", "handbook.a5"}, {"A4", "handbook.a4"}, {"Letter", "handbook.letter"},
}

// mostIssues is how many issues a page knows of: one is issued when something
// changed, which is some times a year at most.
const mostIssues = 30

// openChanges is how many changes are shown without a press.
const openChanges = 8

// showHandbook shows the issue that the message was about, or that the address
// asks for, or else the last one.
func (v *visit) showHandbook() {
	all, err := v.Handbooks.ListHandbookIssues(v.owner(), &handbookv1.ListHandbookIssuesRequest{Parent: v.vehicle, PageSize: mostIssues})
	if err != nil {
		v.failed(err)
		return
	}
	issues := all.GetHandbookIssues()
	if len(issues) == 0 {
		v.message(http.StatusOK, "handbook.none")
		return
	}
	shown := issues[0]
	if n := v.wantedIssue(); n > 0 && n != issueNumber(shown) {
		shown, err = v.Handbooks.GetHandbookIssue(v.owner(), &handbookv1.GetHandbookIssueRequest{Name: fmt.Sprintf("%s/handbookIssues/%d", v.vehicle, n)})
		if gone(err) {
			v.message(http.StatusNotFound, "nowhere")
			return
		}
		if err != nil {
			v.failed(err)
			return
		}
	}
	v.ask(http.StatusOK, "handbook.html", v.say("handbook.title", "serial", v.target.Serial), v.handbookPage(shown, issues))
}

// wantedIssue is the number of the issue that the address asks for, or that the
// message was about; 0 for none.
func (v *visit) wantedIssue() int {
	if text := v.r.URL.Query().Get("issue"); text != "" {
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 || n > 9999 {
			return 0
		}
		return n
	}
	for _, line := range v.notice.GetLines() {
		rest, found := strings.CutPrefix(line.GetCycle(), "HANDBOOK.")
		number, _, _ := strings.Cut(rest, "-")
		if n, err := strconv.Atoi(number); found && err == nil {
			return n
		}
	}
	return 0
}

// issueNumber is the number of an issue: 3 of "vehicles/AM0147P/handbookIssues/3".
func issueNumber(i *handbookv1.HandbookIssue) int {
	n, _ := strconv.Atoi(i.GetName()[strings.LastIndexByte(i.GetName(), '/')+1:])
	return n
}

func (v *visit) handbookPage(i *handbookv1.HandbookIssue, issues []*handbookv1.HandbookIssue) handbookPage {
	n := issueNumber(i)
	page := handbookPage{Title: i.GetTitle(), Language: i.GetLanguage(), Read: press{v.say("handbook.read"), v.handbookFile(n, "handbook.html")}}
	number, day := v.habit.Number(int64(n)), v.habit.Date(dayIn(i.GetOnDate()))
	page.Facts = append(page.Facts, v.say("handbook.issue", "number", number, "date", day))
	if last := issueNumber(issues[0]); n < last {
		page.Facts = append(page.Facts, v.say("handbook.later", "number", v.habit.Number(int64(last))))
	}
	if base, _, _ := strings.Cut(i.GetLanguage(), "-"); base == "en" && !v.english() {
		page.Facts = append(page.Facts, v.say("handbook.english"))
	}
	for _, p := range handbookPapers {
		for _, f := range i.GetFiles() {
			if f.GetMediaType() == "application/pdf" && f.GetPaper() == p.paper {
				page.Files = append(page.Files, fileView{
					press{v.say(p.label), v.handbookFile(n, p.paper+".pdf")},
					v.say("handbook.file", "pages", v.count("handbook.pages", int(f.GetPageCount())), "size", v.habit.Number((f.GetSizeBytes()+1023)/1024)),
				})
			}
		}
	}
	page.changes(v, i, n)
	for _, other := range issues {
		if m := issueNumber(other); m != n {
			label := v.say("handbook.other", "number", v.habit.Number(int64(m)), "date", v.habit.Date(dayIn(other.GetOnDate())))
			page.Others = append(page.Others, press{label, v.here("").Path + template.URL("?issue="+strconv.Itoa(m))})
		}
	}
	return page
}

// changes says what is not as in the issue before.
func (p *handbookPage) changes(v *visit, i *handbookv1.HandbookIssue, n int) {
	switch {
	case n == 1:
		p.Facts = append(p.Facts, v.say("handbook.first"))
	case len(i.GetChanges()) == 0:
		p.Facts = append(p.Facts, v.say("handbook.same"))
	}
	p.ChangesTitle = v.say("handbook.changes", "number", v.habit.Number(int64(n-1)))
	kinds := map[handbookv1.HandbookChangeKind]string{
		handbookv1.HandbookChangeKind_HANDBOOK_CHANGE_KIND_ADDED: "handbook.added", handbookv1.HandbookChangeKind_HANDBOOK_CHANGE_KIND_REMOVED: "handbook.removed",
		handbookv1.HandbookChangeKind_HANDBOOK_CHANGE_KIND_CHANGED: "handbook.changed",
	}
	for at, c := range i.GetChanges() {
		view := changeView{v.say(kinds[c.GetKind()]), c.GetTitle(), "", i.GetLanguage()}
		if c.GetKind() == handbookv1.HandbookChangeKind_HANDBOOK_CHANGE_KIND_CHANGED {
			view.Sentence = c.GetSentence()
		}
		if at < openChanges {
			p.Changes = append(p.Changes, view)
		} else {
			p.More = append(p.More, view)
		}
	}
}

// english reports whether the page is in English.
func (r reader) english() bool {
	base, _, _ := strings.Cut(r.words.Tag(), "-")
	return base == "en"
}

// handbookFile is the address of a file of an issue, below the link that was
// pressed.
func (v *visit) handbookFile(issue int, name string) template.URL {
	return v.here("").Path + template.URL(fmt.Sprintf("/handbook/%d/%s", issue, url.PathEscape(name)))
}
