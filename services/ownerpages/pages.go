// Package ownerpages answers the links that stand in the works' messages: the
// page of the vehicle with what is due, report the odometer, say booked, later
// or done, the history, how one is written to, stop, hand the vehicle over, get
// a calendar; and it takes in what the text-message gateway reports.
//
// A link is the only key to its page, and to those that package links lets it
// lead on to. A message may be forwarded, to a workshop above all, and its links
// with it. So the pages show of the vehicle what a workshop may know, and of its
// reader nothing that the message does not say: of addresses only so much that
// their owner knows which is meant (see contact.go). What would take the vehicle
// or the next messages from their owner, they do only by a link that is sent to the
// address on record when somebody asks for it (see confirm.go). Looking at a
// page changes nothing, because mail scanners follow links; only sending its
// form does. Every page works without scripts and on a narrow telephone, in
// the reader's language; every sentence stands in words/<language>.yaml.
package ownerpages

import (
	"context"
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"log/slog"
	"net/http"
	"time"

	"golang.org/x/text/language"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/figure"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/locale"
	"halfshaft/services/internal/webguard"
)

// Config is what the pages need.
type Config struct {
	Links     links.Ring
	Schedules schedulev1.ScheduleServiceClient
	Reminders reminderv1.ReminderServiceClient
	Owners    ownerv1.OwnerServiceClient
	Builds    buildv1.BuildServiceClient
	Bulletins bulletinv1.BulletinServiceClient
	Handbooks handbookv1.HandbookServiceClient

	// AsOwner gives a context whose calls are made by a person: what is no
	// longer theirs is not found then. AsService gives one whose calls are made
	// by the pages themselves.
	AsOwner   func(ctx context.Context, person string) context.Context
	AsService func(ctx context.Context) context.Context

	// Text proves that a report comes from the text-message gateway, and
	// TextEvent reads it; id is the gateway's identifier of the report. Without
	// them nothing is taken in.
	Text      TextReceiver
	TextEvent func(id string, body []byte) (*reminderv1.TakeTextEventRequest, error)
	// TextReply answers somebody's text message; for a report that comes again it
	// may be asked again. nil leaves them unanswered.
	TextReply func(ctx context.Context, report, to, text string) error

	// Programme puts what the service programme says into another language.
	// Without it, it is said as the programme has it.
	Programme Programme

	Proxies   *webguard.Proxies // those before the pages that are believed; nil: none
	Phrases   fs.FS             // phrase files that a works lays over ours; nil for none
	Address   string            // "https://owners.aldermoor.example": the one that the works gives; "" shows paths, whatever a request says of its host
	Works     string            // name of the works, as printed
	Telephone string            // "" for none
	Clock     func() time.Time
	Logger    *slog.Logger
}

//go:embed templates
var templates embed.FS

//go:embed words
var words embed.FS

// pages serves the links.
type pages struct {
	Config
	page      *template.Template
	style     template.CSS
	catalogue *locale.Catalogue
	languages []language.Tag // of the words, English first
	matcher   language.Matcher
	posts     *limiter      // of all forms
	tries     *limiter      // of codes for taking a vehicle over, and of asking for links
	asks      *asks         // for links that confirm
	pressed   *pressedForms // of forms whose moment is kept
	uploads   chan struct{}
	pictures  chan struct{}
}

// New makes the handler. It refuses phrase files with which something is wrong.
func New(c Config) (http.Handler, error) {
	own, err := fs.Sub(words, "words")
	if err != nil {
		return nil, err
	}
	catalogue, err := locale.Load(own, c.Phrases)
	if err != nil {
		return nil, fmt.Errorf("the words of the owner pages: %w", err)
	}
	page, err := template.ParseFS(templates, "templates/*.html")
	if err != nil {
		return nil, err
	}
	style, err := templates.ReadFile("templates/style.css")
	if err != nil {
		return nil, err
	}
	style = append(style, figure.Stylesheet...)
	p := &pages{
		Config: c, page: page, style: template.CSS(style), catalogue: catalogue,
		posts: newLimiter(postEvery, postBurst), tries: newLimiter(tryEvery, tryBurst), asks: newAsks(), pressed: newPressedForms(),
		uploads: make(chan struct{}, uploadsAtOnce), pictures: make(chan struct{}, picturesAtOnce),
	}
	for _, tag := range catalogue.Languages() {
		p.languages = append(p.languages, language.Make(tag))
	}
	p.matcher = language.NewMatcher(p.languages)
	return webguard.Secured(p.routes(), webguard.Policy{Style: style}), nil
}

// route is one address of the pages, and what answers there.
type route struct {
	pattern string
	answer  http.HandlerFunc
}

// table lists every address.
func (p *pages) table() []route {
	method := func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Allow", "GET, HEAD, POST")
		p.tell(w, r, http.StatusMethodNotAllowed, "method")
	}
	return []route{
		{"GET /l/{token}", p.show},
		{"POST /l/{token}", p.limited(p.posts, p.act)},
		{"/l/{token}", method},
		{"GET /l/{token}/handbook/{issue}/{file}", p.handbookFile},
		{"GET /take-over", p.showTakeOver},
		{"POST /take-over", p.limited(p.tries, p.takeOver)},
		{"/take-over", method},
		{"GET /calendar/{file}", p.calendarFile},
		{"POST /in/text", p.text},
		{"/", func(w http.ResponseWriter, r *http.Request) { p.tell(w, r, http.StatusNotFound, "nowhere") }},
	}
}

// Patterns lists the address of every page, as http.ServeMux writes it: a test
// of the whole works has a row for each.
func Patterns() []string {
	var out []string
	for _, r := range (&pages{}).table() {
		out = append(out, r.pattern)
	}
	return out
}

func (p *pages) routes() http.Handler {
	mux := http.NewServeMux()
	for _, r := range p.table() {
		mux.HandleFunc(r.pattern, r.answer)
	}
	return mux
}

// act does what a page's form asks for; show prints the page of a link.
func (p *pages) show(w http.ResponseWriter, r *http.Request) { p.serve(w, r, false) }
func (p *pages) act(w http.ResponseWriter, r *http.Request)  { p.serve(w, r, true) }

// serve answers a link.
func (p *pages) serve(w http.ResponseWriter, r *http.Request, act bool) {
	v, ok := p.visit(w, r)
	if !ok {
		return
	}
	if !act {
		v.show()
		return
	}
	photo := v.link.Purpose == links.Odometer
	if photo && inParts(r) {
		leave, ok := p.admit(r)
		if !ok {
			v.message(http.StatusServiceUnavailable, "unavailable")
			return
		}
		defer leave()
	}
	form, err := readForm(w, r, photo)
	if err != nil {
		v.message(http.StatusBadRequest, "form-unread")
		return
	}
	v.form = form
	v.act()
}

func (v *visit) show() {
	switch v.link.Purpose {
	case links.Schedule:
		v.showSchedule()
	case links.Odometer:
		v.showOdometer()
	case links.Booked:
		v.showBooked()
	case links.Snooze:
		v.showSnooze()
	case links.Done:
		v.showDone()
	case links.Unsubscribe, links.StopYearLetter:
		v.showStop()
	case links.Transfer:
		v.showTransfer()
	case links.GiveAway:
		v.showGiveAway()
	case links.Move:
		v.showMove()
	case links.Calendar:
		v.showCalendar()
	case links.History:
		v.showHistory()
	case links.People:
		v.showPeople()
	case links.Handbook:
		v.showHandbook()
	default:
		v.dead(v.w, v.r)
	}
}

func (v *visit) act() {
	switch v.link.Purpose {
	case links.Schedule:
		v.showSchedule() // it has no form
	case links.History:
		v.showHistory() // nor has this
	case links.People:
		v.changePeople()
	case links.Handbook:
		v.showHandbook() // nor has this
	case links.Odometer:
		v.report()
	case links.Booked:
		v.book()
	case links.Snooze:
		v.snooze()
	case links.Done:
		v.done()
	case links.Unsubscribe, links.StopYearLetter:
		v.stop()
	case links.Transfer:
		v.confirm(reminderv1.ConfirmationMatter_CONFIRMATION_MATTER_TRANSFER)
	case links.GiveAway:
		v.offer()
	case links.Move:
		v.move()
	case links.Calendar:
		v.calendar()
	default:
		v.dead(v.w, v.r)
	}
}
