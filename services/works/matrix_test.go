package works_test

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"halfshaft/services/access/accessgate"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/throttle"
)

// matrix is one walk over all cells.
type matrix struct {
	*world
	t       *testing.T
	cells   int
	answers int // in which nothing forbidden was found
	fleet   map[string]bool
}

// cell is one call: a method, by a caller, about an object.
type cell struct {
	method protoreflect.MethodDescriptor
	full   string
	ask    ask
	caller caller
	about  relation
}

func (c cell) String() string {
	return fmt.Sprintf("%s as %s about %s", strings.TrimPrefix(c.full, "/halfshaft."), c.caller.name, c.about.name)
}

// TestEveryMethodOfTheWholeWorksAsEverybodyAboutEverything calls every method of
// every service that a process has registered, as every kind of caller, about
// what is theirs, assigned, another's, formerly theirs, and not there. A method
// without a row in matrixrequests_test.go fails.
func TestEveryMethodOfTheWholeWorksAsEverybodyAboutEverything(t *testing.T) {
	racetest.Skip(t, "its calls follow each other")
	w := newWorld(t, matrixWorks(t))
	w.populate()
	m := &matrix{world: w, t: t, fleet: w.fleet()}
	begin := time.Now()
	methods := m.methods()
	for _, method := range methods {
		for _, c := range w.callers() {
			m.walk(method, c)
		}
	}
	t.Logf("%d cells: %d methods, %d callers, in %.1f s; %d answers to owners and dealers looked through", m.cells, len(methods), len(w.callers()),
		time.Since(begin).Seconds(), m.answers)
	w.finish()
	for _, method := range methods {
		full := fullName(method)
		if !w.done.of[full] && asks[string(method.Parent().FullName())][string(method.Name())].shown == "" {
			t.Errorf("%s was never answered well: the matrix shows nothing of it", full)
		}
	}
	w.audited(t, methods)
}

// methods are those of every registered service, each of which must have a row.
func (m *matrix) methods() []protoreflect.MethodDescriptor {
	var out []protoreflect.MethodDescriptor
	for name, service := range m.services() {
		for i := range service.Methods().Len() {
			method := service.Methods().Get(i)
			if _, there := asks[name][string(method.Name())]; !there {
				m.t.Errorf("%s has no row in matrixrequests_test.go: who may call it, and with what?", method.FullName())
				continue
			}
			out = append(out, method)
		}
		for method := range asks[name] {
			if service.Methods().ByName(protoreflect.Name(method)) == nil {
				m.t.Errorf("%s.%s has a row in matrixrequests_test.go and does not exist", name, method)
			}
		}
	}
	slices.SortFunc(out, func(a, b protoreflect.MethodDescriptor) int {
		return strings.Compare(string(a.FullName()), string(b.FullName()))
	})
	return out
}

// walk calls one method as one caller about all that they ask about.
func (m *matrix) walk(method protoreflect.MethodDescriptor, c caller) {
	row := asks[string(method.Parent().FullName())][string(method.Name())]
	cl := cell{method: method, full: fullName(method), ask: row, caller: c}
	about := c.about
	if !strings.Contains(row.request, "{") {
		about = []relation{{name: "nothing", letter: "A"}}
	}
	unseen := map[string]string{} // what a refusal reads, by relation
	both := strings.Contains(row.request, "{serial}") && strings.Contains(row.request, "{person}")
	for _, r := range about {
		if r.mixed != "" && !both {
			continue
		}
		cl.about = r
		out, err := m.call(cl, row.request)
		m.cells++
		want := cl.want()
		if result := outcomeOf(cl, err); result != want {
			m.t.Errorf("%s: got %s (%v), want %s", cl, result, err, want)
		}
		if want == "unseen" {
			unseen[r.name] = m.blank(c, r, err)
		}
		m.search(cl, out, err)
	}
	for _, r := range about {
		like := cmp.Or(r.like, "missing")
		if r.mixed != "" && r.like == "" {
			continue // it is what others are compared with
		}
		if text, refused := unseen[r.name]; refused && text != unseen[like] {
			m.t.Errorf("%s as %s: %s reads\n%s\nand %s\n%s", cl.full, c.name, r.name, text, like, unseen[like])
		}
	}
	if row.all != "" && c.limited() && cl.want() != "denied" {
		cl.about = relation{name: "all", letter: "A"}
		out, err := m.call(cl, row.all)
		m.cells++
		if err != nil {
			m.t.Errorf("%s: %v", cl, err)
		}
		m.search(cl, out, err)
	}
}

// want is what comes of a cell: by the row, and nothing else.
func (c cell) want() string {
	everybody := strings.Contains(c.ask.may, "n")
	switch {
	case c.caller.letter == "":
		return "no key"
	case c.caller.letter == "n" && !everybody:
		return "no key"
	case everybody:
		return "in"
	case !strings.Contains(c.ask.may, c.caller.letter), !c.inScope():
		return "denied"
	case c.caller.limited() && strings.Contains(c.ask.request, "{") && !c.about.theirs():
		return "unseen"
	}
	return "in"
}

// reads are the methods that change nothing, by the word they begin with.
var reads = regexp.MustCompile(`^(Answer|Check|Download|Find|Get|Judge|List|Open|Preview|Print|Read|Seal|Search|Select|Watch|WhoAmI)`)

// inScope says whether a key with scopes reaches as far as the method.
func (c cell) inScope() bool {
	if len(c.caller.scopes) == 0 || c.method.Name() == "WhoAmI" {
		return true
	}
	service := strings.Split(c.full, ".")[1] // "/halfshaft.parts.v1.PartsService/…"
	return strings.HasPrefix(c.full, "/halfshaft.") &&
		(slices.Contains(c.caller.scopes, service) || slices.Contains(c.caller.scopes, service+".read") && reads.MatchString(string(c.method.Name())))
}

// outcomeOf names what came of a call. Staff and services find nothing where
// nothing is; for the others it is the door that does not see it.
func outcomeOf(c cell, err error) string {
	switch code := status.Code(err); {
	case code == codes.Unauthenticated && c.caller.letter == "v":
		return "in" // a service's key is good: it is the sign-in that it asks for which fails
	case code == codes.Unauthenticated:
		return "no key"
	case code == codes.PermissionDenied:
		return "denied"
	case code == codes.NotFound && c.caller.limited():
		return "unseen"
	case code == codes.Internal, code == codes.Unknown, code == codes.Unimplemented, code == codes.DeadlineExceeded, code == codes.ResourceExhausted:
		return code.String()
	}
	return "in"
}

var placeholder = regexp.MustCompile(`\{(\w+)\}`)

// call makes the request and sends it. The answer of a stream is its first
// message.
func (m *matrix) call(c cell, text string) (proto.Message, error) {
	m.t.Helper()
	with := m.placeholders(c.caller, c.about)
	text = placeholder.ReplaceAllStringFunc(text, func(name string) string {
		return with[strings.Trim(name, "{}")]
	})
	in, out := message(m.t, c.method.Input()), message(m.t, c.method.Output())
	if err := prototext.Unmarshal([]byte(text), in); err != nil {
		m.t.Fatalf("%s: %q: %v", c, text, err)
	}
	ctx, cancel := context.WithTimeout(m.t.Context(), 20*time.Second)
	defer cancel()
	if secret := m.keys[c.caller.name]; secret != "" {
		ctx = metadata.AppendToOutgoingContext(ctx, "authorization", "Bearer "+secret)
	}
	if c.method.IsStreamingServer() {
		return out, m.stream(ctx, c, in, out)
	}
	err := m.conn.Invoke(ctx, c.full, in, out)
	if err == nil {
		m.done.of[c.full] = true
	}
	return out, err
}

func (m *matrix) stream(ctx context.Context, c cell, in, out proto.Message) error {
	s, err := m.conn.NewStream(ctx, &grpc.StreamDesc{ServerStreams: true, ClientStreams: c.method.IsStreamingClient()}, c.full)
	if err != nil {
		return err
	}
	if err := s.SendMsg(in); err != nil && !errors.Is(err, io.EOF) {
		return err
	}
	if err := s.RecvMsg(out); err != nil {
		return err
	}
	m.done.of[c.full] = true
	return nil
}

// blank gives a refusal as bytes, the names of what was asked about taken out.
func (m *matrix) blank(c caller, r relation, err error) string {
	text := prototext.MarshalOptions{}.Format(status.Convert(err).Proto())
	for field, value := range m.placeholders(c, r) {
		if value != "" && field != "who" {
			text = strings.ReplaceAll(text, strings.TrimPrefix(value, "people/"), "X")
		}
	}
	return strings.Join(strings.Fields(text), " ") // the printer's spacing is random on purpose
}

// search looks through what a limited caller was told for what is not theirs:
// other people's words and whereabouts, and the serials of other vehicles.
// Engineers read no way to reach anybody.
func (m *matrix) search(c cell, out proto.Message, err error) {
	text := prototext.Format(out)
	if err != nil {
		text = prototext.Format(status.Convert(err).Proto())
	}
	if c.caller.letter == "e" {
		m.without(c, text, m.contacts)
	}
	if !c.caller.limited() {
		return
	}
	m.answers++
	m.without(c, text, m.forbidden(c.caller))
	if c.caller.letter == "d" {
		m.without(c, text, []string{"people/"})
	}
	theirs := map[string]bool{m.serials[c.about.letter]: true} // asked about, so known
	for _, letter := range c.caller.own {
		theirs[m.serials[letter]] = true
	}
	if past := c.method.Name(); past == "ListTies" || past == "ListDocuments" || past == "GetDocument" {
		for _, letter := range c.caller.had { // that it was theirs, and what they sent in then
			theirs[m.serials[letter]] = true
		}
	}
	for _, word := range serialLike.FindAllString(text, -1) {
		if m.fleet[word] && !theirs[word] {
			m.t.Errorf("%s is told of the vehicle %s: %s", c, word, near(text, word))
		}
	}
}

var serialLike = regexp.MustCompile(`AM\d{4}[A-Z0-9]{1,2}`)

func (m *matrix) without(c cell, text string, words []string) {
	for _, word := range words {
		if strings.Contains(text, word) {
			m.t.Errorf("%s is told %q: %s", c, word, near(text, word))
		}
	}
}

// near is what stands around a word.
func near(text, word string) string {
	i := strings.Index(text, word)
	return fmt.Sprintf("…%s…", text[max(0, i-120):min(len(text), i+len(word)+60)])
}

// unlimited lets callers call as often as a test does; the limits have tests of
// their own in services/access/accessgate.
var unlimited = func() accessgate.Limits {
	often := throttle.Rate{Every: time.Nanosecond, Burst: 1_000_000}
	return accessgate.Limits{Key: often, Address: often, Failed: often, Changes: often}
}()
