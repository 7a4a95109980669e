package audit

import (
	"encoding/json"
	"io"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"halfshaft/services/access"
	"halfshaft/services/fault"
)

// The limits of a line, so that it stays one.
const (
	maxActor   = 480  // bytes of who called: 120 characters of four
	maxField   = 300  // bytes of another field
	maxBecause = 1000 // bytes of the reason
	// MaxObjects is how many objects a line names; a call about more names the
	// first.
	MaxObjects = 20
)

// written is a line as it is hashed: these names and their order are fixed for
// ever, and what is empty is left out. A field more needs no new form, since
// older lines leave it out too.
type written struct {
	Time        string   `json:"time"`
	Actor       string   `json:"actor,omitempty"`
	Role        string   `json:"role"`
	Credential  string   `json:"credential,omitempty"`
	Party       string   `json:"party,omitempty"`
	Through     string   `json:"through,omitempty"`
	Method      string   `json:"method"`
	Objects     []string `json:"objects,omitempty"`
	Fields      []string `json:"fields,omitempty"`
	Outcome     string   `json:"outcome"`
	ErrorReason string   `json:"error_reason,omitempty"`
	Because     string   `json:"because,omitempty"`
	Network     string   `json:"network,omitempty"`
	Count       int      `json:"count,omitempty"`
}

// lastYear leaves room for the day until when a line is kept.
const lastYear = 9900

// timeForm is RFC 3339 with six digits of a second, in UTC.
const timeForm = "2006-01-02T15:04:05.000000Z"

var outcomeNames = [...]string{"unsaid", "changed", "unchanged", "read", "refused", "failed"}

func (o Outcome) String() string {
	if int(o) < len(outcomeNames) {
		return outcomeNames[o]
	}
	return outcomeNames[Unsaid]
}

// Text gives the canonical text of a line: one JSON object without a line
// break. What is longer than a line may be is cut.
func (l Line) Text() string {
	l = l.normal()
	w := written{
		Time: l.Time.Format(timeForm), Actor: l.Actor, Role: l.Role.String(), Credential: l.Credential,
		Party: l.Party, Through: l.Through, Method: l.Method, Objects: l.Objects, Fields: l.Fields, Outcome: l.Outcome.String(),
		ErrorReason: l.ErrorReason, Because: l.Because, Network: l.Network, Count: l.Count,
	}
	var b strings.Builder
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(w); err != nil {
		panic("strings and numbers cannot be encoded: " + err.Error())
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// Parse reads what Text wrote, and nothing else: another order of fields or
// another way to write the same is refused.
func Parse(text string) (Line, error) {
	var w written
	d := json.NewDecoder(strings.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&w); err != nil {
		return Line{}, unreadable(text)
	}
	if _, err := d.Token(); err != io.EOF {
		return Line{}, unreadable(text)
	}
	at, errTime := time.Parse(timeForm, w.Time)
	role, errRole := roleOf(w.Role)
	outcome := slices.Index(outcomeNames[:], w.Outcome)
	if errTime != nil || at.Year() > lastYear || errRole != nil || outcome < 0 {
		return Line{}, unreadable(text)
	}
	l := Line{
		Time: at.UTC(), Actor: w.Actor, Role: role, Credential: w.Credential, Party: w.Party, Through: w.Through,
		Method: w.Method, Objects: w.Objects, Fields: w.Fields, Outcome: Outcome(outcome), ErrorReason: w.ErrorReason,
		Because: w.Because, Network: w.Network, Count: w.Count,
	}
	if l.Text() != text {
		return Line{}, unreadable(text)
	}
	return l, nil
}

// roleOf reads what access.Role writes, of Nobody too.
func roleOf(text string) (access.Role, error) {
	if text == access.Nobody.String() {
		return access.Nobody, nil
	}
	return access.ParseRole(text)
}

func unreadable(text string) error {
	const show = 80
	if len(text) > show {
		text = shorten(text, show)
	}
	return fault.InvalidField("text", text, "a line of the audit as it was written")
}

// Bounded gives the line as its text will say it, cut to what a line may hold:
// who keeps lines in memory keeps no more of a caller's words than the store
// would.
func (l Line) Bounded() Line { return l.normal() }

// normal is the line as its text says it.
func (l Line) normal() Line {
	l.Time = l.Time.UTC().Truncate(time.Microsecond)
	for _, who := range []*string{&l.Actor, &l.Through} {
		*who = shorten(*who, maxActor)
	}
	for _, field := range []*string{&l.Credential, &l.Party, &l.Method, &l.ErrorReason, &l.Network} {
		*field = shorten(*field, maxField)
	}
	l.Because = shorten(l.Because, maxBecause)
	l.Objects, l.Fields = eachOnce(l.Objects), eachOnce(l.Fields)
	if l.Count <= 1 {
		l.Count = 0
	}
	return l
}

// eachOnce gives names without what is empty or stands there already, the first
// of them where they are many; nil for none.
func eachOnce(names []string) []string {
	var out []string
	for _, n := range names {
		if n = shorten(n, maxField); n != "" && !slices.Contains(out, n) && len(out) < MaxObjects {
			out = append(out, n)
		}
	}
	return out
}

// shorten cuts a text at a character, with an ellipsis, and mends what is no
// text.
func shorten(text string, most int) string {
	text = strings.ToValidUTF8(text, "\uFFFD")
	if len(text) <= most {
		return text
	}
	const dots = "…"
	cut := most - len(dots)
	for !utf8.RuneStart(text[cut]) {
		cut--
	}
	return text[:cut] + dots
}
