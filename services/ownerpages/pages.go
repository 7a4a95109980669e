// Package ownerpages answers the links that stand in the works' mails: report
// the odometer, stop the reminders. A link is the only key to its page, and
// opens that one thing. Looking at a page changes nothing, because mail
// scanners follow links; only sending its form does.
package ownerpages

import (
	"context"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"errors"
	"html/template"
	"io"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Config is what the pages need.
type Config struct {
	Links     links.Ring
	Schedules schedulev1.ScheduleServiceClient
	Reminders reminderv1.ReminderServiceClient

	// AsOwner gives a context whose calls are made by a person: what is no
	// longer theirs is not found then. AsService gives one whose calls are made
	// by the pages themselves.
	AsOwner   func(ctx context.Context, person string) context.Context
	AsService func(ctx context.Context) context.Context

	Works     string // name of the works, as printed
	Telephone string // "" for none
	Clock     func() time.Time
	Logger    *slog.Logger
}

//go:embed templates
var templates embed.FS

// maxForm is more than any form here holds.
const maxForm = 8 << 10

// pages serves the links.
type pages struct {
	Config
	page  *template.Template
	style template.CSS
}

// New makes the handler.
func New(c Config) http.Handler {
	style, err := templates.ReadFile("templates/style.css")
	if err != nil {
		panic(err) // it is compiled in
	}
	p := &pages{c, template.Must(template.ParseFS(templates, "templates/*.html")), template.CSS(style)}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /l/{token}", p.show)
	mux.HandleFunc("POST /l/{token}", p.act)
	mux.HandleFunc("/l/{token}", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Allow", "GET, HEAD, POST")
		p.say(w, http.StatusMethodNotAllowed, "That cannot be done here", "Please open the link in our mail with a browser.")
	})
	mux.HandleFunc("/", func(w http.ResponseWriter, _ *http.Request) {
		p.say(w, http.StatusNotFound, "There is no such page", "Please use the link in our mail as it stands there.")
	})
	return secured(mux, style)
}

// secured sets the headers of every answer: nothing is loaded from anywhere
// else, no style but ours is obeyed and no script at all, nothing is kept, and
// the address, which is a key, is told to nobody.
func secured(next http.Handler, style []byte) http.Handler {
	sum := sha256.Sum256(style)
	policy := "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) +
		"'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Cache-Control", "no-store")
		h.Set("X-Robots-Tag", "noindex")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
		r.Body = http.MaxBytesReader(w, r.Body, maxForm)
		next.ServeHTTP(w, r)
	})
}

// link reads the token of a request; what is wrong with it has been said when
// ok is false.
func (p *pages) link(w http.ResponseWriter, r *http.Request) (l links.Link, serial, person string, ok bool) {
	l, err := p.Links.Read(r.PathValue("token"), p.Clock())
	switch {
	case errors.Is(err, links.ErrExpired):
		p.say(w, http.StatusGone, "This link is too old", "Please use the link in our latest mail, or call us.")
		return l, "", "", false
	case err != nil:
		p.say(w, http.StatusNotFound, "We do not know this link", "It may have been cut off by the mail program. Please copy it whole, or call us.")
		return l, "", "", false
	}
	t, ok := l.Target()
	if !ok {
		p.say(w, http.StatusNotFound, "We do not know this link", "Please call us.")
	}
	return l, t.Serial, t.Person, ok
}

// show prints the page of a link.
func (p *pages) show(w http.ResponseWriter, r *http.Request) {
	l, serial, person, ok := p.link(w, r)
	if !ok {
		return
	}
	switch l.Purpose {
	case links.Odometer:
		unit, found := p.unit(w, r, serial, person)
		if found {
			p.odometer(w, http.StatusOK, odometerForm{Serial: serial, Unit: unit, Date: vehicle.DateOf(p.Clock()).String(), Request: uuid.NewString()})
		}
	case links.Unsubscribe:
		p.print(w, http.StatusOK, "unsubscribe.html", p.view("Stop service reminders", struct{ Serial string }{serial}))
	default:
		p.say(w, http.StatusNotFound, "We do not know this link", "Please call us.")
	}
}

// unit asks in which unit the vehicle's dial counts. It finds nothing when the
// vehicle is no longer the person's, and says so.
func (p *pages) unit(w http.ResponseWriter, r *http.Request, serial, person string) (string, bool) {
	s, err := p.Schedules.GetSchedule(p.AsOwner(r.Context(), person), &schedulev1.GetScheduleRequest{Name: "vehicles/" + serial + "/schedule"})
	if err != nil {
		p.failed(w, err)
		return "", false
	}
	return s.GetPace().GetUnit(), true
}

// failed says in general words why nothing came of it.
func (p *pages) failed(w http.ResponseWriter, err error) {
	if rpcerr.FromStatus(err).Kind == fault.NotFound {
		p.say(w, http.StatusGone, "This link is no longer in use", "The vehicle is not registered to you any more. If that is wrong, please call us.")
		return
	}
	p.Logger.Error("a page could not be answered", "error", err)
	p.say(w, http.StatusServiceUnavailable, "We cannot answer at the moment", "Please try again in a few minutes, or call us.")
}

// act does what a page's form asks for.
func (p *pages) act(w http.ResponseWriter, r *http.Request) {
	l, serial, person, ok := p.link(w, r)
	if !ok {
		return
	}
	// RFC 8058 section 3.1 lets a mail program send either kind of form.
	err := r.ParseForm()
	if err == nil {
		err = r.ParseMultipartForm(maxForm)
	}
	if err != nil && !errors.Is(err, http.ErrNotMultipart) {
		p.say(w, http.StatusBadRequest, "We could not read the form", "Please try again.")
		return
	}
	switch l.Purpose {
	case links.Odometer:
		p.report(w, r, serial, person)
	case links.Unsubscribe:
		p.stop(w, r, serial, person)
	default:
		p.say(w, http.StatusNotFound, "We do not know this link", "Please call us.")
	}
}

// stop ends service notices about one vehicle to one person. A mail program
// sends the body that RFC 8058 prescribes and reads no page.
func (p *pages) stop(w http.ResponseWriter, r *http.Request, serial, person string) {
	way := "page"
	if r.PostFormValue("List-Unsubscribe") == "One-Click" {
		way = "one-click"
	}
	_, err := p.Reminders.CreateOptOut(p.AsService(r.Context()), &reminderv1.CreateOptOutRequest{
		OptOut:    &reminderv1.OptOut{Vehicle: "vehicles/" + serial, Person: "people/" + person, Way: way},
		RequestId: uuid.NewString(),
	})
	switch {
	case err != nil:
		p.failed(w, err)
		return
	case way == "one-click":
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		io.WriteString(w, "Unsubscribed.\n") //nolint:errcheck // nobody reads it
		return
	}
	p.say(w, http.StatusOK, "Service reminders are stopped",
		"We send you no more service reminders about "+serial+". Safety campaigns still reach you. Call us if you want the reminders back.")
}

// report records what the owner read off the odometer.
func (p *pages) report(w http.ResponseWriter, r *http.Request, serial, person string) {
	form := odometerForm{
		Serial: serial, Value: strings.TrimSpace(r.PostFormValue("value")), Unit: r.PostFormValue("unit"),
		Date: r.PostFormValue("date"), Request: r.PostFormValue("request"),
	}
	reading, err := form.reading()
	if err != nil {
		p.again(w, form, err)
		return
	}
	reading, err = p.Schedules.RecordReading(p.AsOwner(r.Context(), person), &schedulev1.RecordReadingRequest{
		Parent: "vehicles/" + serial, Reading: reading, RequestId: form.Request,
	})
	switch {
	case err == nil:
		p.thank(w, serial, reading)
	case len(rpcerr.FromStatus(err).Fields) > 0:
		p.again(w, form, rpcerr.FromStatus(err))
	default:
		p.failed(w, err)
	}
}

// again shows the form with what was typed and what is wrong with it.
func (p *pages) again(w http.ResponseWriter, form odometerForm, err error) {
	var f *fault.Error
	if errors.As(err, &f) {
		form.Wrong = wrongWords(f.Fields)
	}
	p.odometer(w, http.StatusUnprocessableEntity, form)
}

// thank says what became of the reading.
func (p *pages) thank(w http.ResponseWriter, serial string, r *schedulev1.Reading) {
	said := r.GetValue().GetEnteredValue() + " " + r.GetValue().GetEnteredUnit()
	if r.GetState() == schedulev1.ReadingState_READING_STATE_COUNTED {
		p.say(w, http.StatusOK, "Thank you", "We have "+said+" for "+serial+".")
		return
	}
	p.say(w, http.StatusOK, "Thank you", "We have "+said+" for "+serial+". It does not go well with the readings before it, so somebody here looks at it first and may call you.")
}

// odometerForm is the form as it is shown and as it comes back.
type odometerForm struct {
	Serial, Value, Unit, Date, Request string
	Wrong                              string
}

// reading reads the form; errors name its fields.
func (f *odometerForm) reading() (*schedulev1.Reading, error) {
	value, err := vehicle.ParseDecimal(strings.ReplaceAll(f.Value, " ", ""))
	if err != nil {
		return nil, fault.Under("reading.value", err)
	}
	unit, err := vehicle.ParseUnit(f.Unit)
	if err != nil {
		return nil, fault.Under("reading.unit", err)
	}
	on, err := vehicle.ParseDate(f.Date)
	if err != nil {
		return nil, fault.Under("reading.date", err)
	}
	if _, err := uuid.Parse(f.Request); err != nil {
		return nil, fault.InvalidField("request", f.Request, "the form as we sent it: please open the link again")
	}
	return &schedulev1.Reading{
		ReadingDate: vehiclewire.DateProto(on), Value: vehiclewire.EnteredProto(vehicle.Entered{Value: value, Unit: unit}),
		Source: schedulev1.ReadingSource_READING_SOURCE_OWNER,
	}, nil
}

// wrongWords tells an owner what to correct.
func wrongWords(fields []fault.Field) string {
	for _, f := range fields {
		switch {
		case strings.Contains(f.Name, "date"):
			return "Please give the day on which you read it, not later than today."
		case strings.Contains(f.Name, "request"):
			return "Please open the link in our mail again."
		}
	}
	return "Please give the figures as the odometer shows them: digits only, a point before the tenths."
}

func (p *pages) odometer(w http.ResponseWriter, status int, form odometerForm) {
	p.print(w, status, "odometer.html", p.view("What does the odometer show?", form))
}

// view is what every page has.
type view struct {
	Title, Works, Telephone string
	Style                   template.CSS
	Content                 any
}

func (p *pages) view(title string, content any) view {
	return view{title, p.Works, p.Telephone, p.style, content}
}

// say prints a page with one message.
func (p *pages) say(w http.ResponseWriter, status int, title, text string) {
	p.print(w, status, "message.html", p.view(title, text))
}

// print renders first and writes afterwards, so that nobody sees half a page.
func (p *pages) print(w http.ResponseWriter, status int, name string, v view) {
	var b strings.Builder
	if err := p.page.ExecuteTemplate(&b, name, v); err != nil {
		p.Logger.Error("a page could not be rendered", "page", name, "error", err)
		http.Error(w, "We cannot answer at the moment.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	io.WriteString(w, b.String()) //nolint:errcheck // the reader is gone
}
