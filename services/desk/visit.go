package desk

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"strings"

	"github.com/google/uuid"

	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/internal/throttle"
	"halfshaft/services/internal/webguard"
	"halfshaft/services/wording"
)

// visit is one request, and who made it.
type visit struct {
	d *desk
	w http.ResponseWriter
	r *http.Request

	signed *Signed // nil for nobody
	secret string  // of the session
	fresh  bool    // they signed in a short while ago
}

func (d *desk) visit(w http.ResponseWriter, r *http.Request) *visit { return &visit{d: d, w: w, r: r} }

// asService gives the context of a call that the pages make themselves.
func (v *visit) asService() context.Context { return v.d.AsService(v.r.Context()) }

// as gives the context of a call on behalf of who is signed in.
func (v *visit) as() context.Context { return v.d.As(v.r.Context(), *v.signed) }

// network is where the request comes from, as the services keep it.
func (v *visit) network() string { return throttle.NetworkText(v.d.Proxies.Sender(v.r)) }

// mostForm bounds what a form may send, in bytes: all texts of a bulletin at
// their longest, where each "ü" is sent as six bytes and an emoji as twelve.
const mostForm = 512 << 10

// readForm reads the form that was sent. Where it cannot, it answers.
func (v *visit) readForm() bool {
	v.r.Body = http.MaxBytesReader(v.w, v.r.Body, mostForm)
	if err := v.r.ParseForm(); err != nil {
		v.message(http.StatusBadRequest, "This form could not be read", "Go back and try again.")
		return false
	}
	return true
}

// value gives what was entered into a field, without the space around it. A
// browser sends lines with both signs of their end (HTML standard, form
// submission), of which the services take one, and count one.
func (v *visit) value(name string) string {
	return strings.TrimSpace(strings.ReplaceAll(v.r.PostForm.Get(name), "\r\n", "\n"))
}

// request gives the identifier that the form was given when it was shown, so
// that it counts once however often it is sent.
func (v *visit) request() string {
	if id := v.value("request"); uuid.Validate(id) == nil {
		return id
	}
	return uuid.NewString()
}

// requestField is the hidden field for it.
func requestField() field { return field{Name: "request", Type: "hidden", Value: uuid.NewString()} }

func (v *visit) goTo(path string) { http.Redirect(v.w, v.r, path, http.StatusSeeOther) }

// refuse answers with what a service refused, on a page of its own.
func (v *visit) refuse(err error) {
	f := refusal(err)
	answer := answers[f.Kind]
	if f.RetryAfter > 0 {
		v.w.Header().Set("Retry-After", webguard.RetryAfter(f.RetryAfter))
	}
	if answer.status >= http.StatusInternalServerError {
		v.d.Logger.Warn("a page could not be answered", "page", v.r.Pattern, "error", err)
	}
	if isJSON(v.r) {
		v.json(answer.status, reply{Error: sentence(f)})
		return
	}
	v.message(answer.status, answer.title, sentence(f))
}

// refusal reads what a service refused, or a form of ours.
func refusal(err error) *fault.Error {
	var own *fault.Error
	if errors.As(err, &own) {
		return own
	}
	return rpcerr.FromStatus(err)
}

// answers are how a page answers each kind of refusal.
var answers = map[fault.Kind]struct {
	status int
	title  string
}{
	fault.Internal:           {http.StatusInternalServerError, "Something went wrong here"},
	fault.Invalid:            {http.StatusUnprocessableEntity, "Something is not right yet"},
	fault.NotFound:           {http.StatusNotFound, "That is not there"},
	fault.AlreadyExists:      {http.StatusConflict, "That is there already"},
	fault.Aborted:            {http.StatusConflict, "Somebody else changed that meanwhile"},
	fault.FailedPrecondition: {http.StatusConflict, "That cannot be done now"},
	fault.Denied:             {http.StatusForbidden, "That is not for you"},
	fault.Unauthenticated:    {http.StatusUnauthorized, "You are not let in"},
	fault.Exhausted:          {http.StatusTooManyRequests, "That was too much at once"},
	fault.Unavailable:        {http.StatusServiceUnavailable, "That does not answer at the moment"},
}

// sentence says a refusal to a person.
func sentence(f *fault.Error) string {
	if f.Kind == fault.Internal {
		return "We cannot answer at the moment. Try again later."
	}
	var parts []string
	if f.Message != "" {
		parts = append(parts, wording.Ended(wording.UpperFirst(f.Message)))
	}
	for _, x := range f.Fields {
		parts = append(parts, "Wanted is "+x.Want+".")
	}
	if f.RetryAfter >= 2e9 {
		parts = append(parts, "Try again in "+span(f.RetryAfter)+".")
	}
	return strings.Join(parts, " ")
}

// reply is what a script of ours is told.
type reply struct {
	Options json.RawMessage `json:"options,omitempty"` // for the browser's passkeys
	Next    string          `json:"next,omitempty"`    // where to go on
	Error   string          `json:"error,omitempty"`
}

func (v *visit) json(status int, a reply) {
	v.w.Header().Set("Content-Type", "application/json")
	v.w.WriteHeader(status)
	json.NewEncoder(v.w).Encode(a) //nolint:errcheck // the reader is gone
}

func isJSON(r *http.Request) bool {
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	return kind == "application/json"
}

// readJSON reads what a script of ours sends. A form of somebody else's cannot
// send this type.
func (v *visit) readJSON(into any) bool {
	err := errors.New("not JSON")
	if isJSON(v.r) {
		var raw []byte
		if raw, err = io.ReadAll(http.MaxBytesReader(v.w, v.r.Body, mostForm)); err == nil {
			err = json.Unmarshal(raw, into)
		}
	}
	if err != nil {
		v.json(http.StatusBadRequest, reply{Error: "That could not be read. Load the page anew."})
		return false
	}
	return true
}
