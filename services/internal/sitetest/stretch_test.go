package sitetest

import (
	"context"
	"regexp"
	"slices"
	"strings"
	"sync"

	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"halfshaft/testdata/aldermoor"
)

// amount is how much the services say they have, whatever they have.
type amount struct {
	name  string
	rows  int  // of each list; as many as there are where it is negative
	long  bool // names and texts are as long as anybody has seen them
	whole bool // what a single thing consists of grows too
}

// amounts are those at which lists go wrong.
var amounts = []amount{
	{name: "no-rows"}, {name: "one-row", rows: 1}, {name: "200-rows", rows: 200}, {name: "long-names", rows: -1, long: true},
}

// stretched is a connection to the services on which answers come in another
// amount than they were given: lists are cut or repeated, names drawn out. What
// is repeated or drawn out is still asked for by its own name.
type stretched struct {
	grpc.ClientConnInterface

	mu sync.Mutex
	to amount
}

func (s *stretched) set(a amount) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.to = a
}

func (s *stretched) amount() amount {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.to
}

// Who is signed in, and what is on paper or in a file, is as it is.
var asItIs = regexp.MustCompile(`/(CheckSession|Download\w+)$`)

func (s *stretched) Invoke(ctx context.Context, method string, asked, answer any, options ...grpc.CallOption) error {
	a, question := s.amount(), proto.Clone(asked.(proto.Message))
	last := drawIn(question.ProtoReflect())
	if err := s.ClientConnInterface.Invoke(ctx, method, question, answer, options...); err != nil || asItIs.MatchString(method) {
		return err
	}
	m := answer.(proto.Message).ProtoReflect()
	if a.rows >= 0 && (a.rows <= 1 || a.whole || grows.MatchString(method) && !fewOfAVehicle.MatchString(method)) {
		resize(m, a.rows, question.ProtoReflect(), last)
	}
	if a.long {
		drawOut(m)
	}
	return nil
}

// grows is what answers with as many as there are on record. What a single thing
// consists of, as the items of a visit, has its own measure, but for the pages that
// say otherwise; and so have the people
// and the bulletins of one vehicle, and the calls that its owner refuses.
var grows = regexp.MustCompile(`/(List|Search|Find)\w+$`)
var fewOfAVehicle = regexp.MustCompile(`/List(Ties|VehicleBulletins|OptOuts)$`)

// furtherOn is the page token of what is made up.
const furtherOn = "further-on"

// resize gives each list of an answer some number of rows, or as many as were
// asked for at most, with more to come. The second page is the last.
func resize(m protoreflect.Message, rows int, question protoreflect.Message, last bool) {
	token := m.Descriptor().Fields().ByName("next_page_token")
	if size := question.Descriptor().Fields().ByName("page_size"); size != nil {
		if n := int(question.Get(size).Int()); n > 0 && n < rows {
			rows = n
			if token != nil && !last {
				m.Set(token, protoreflect.ValueOfString(furtherOn))
				token = nil
			}
		}
	}
	if token != nil {
		m.Clear(token)
	}
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		f := fields.Get(i)
		if !f.IsList() || f.Message() == nil {
			continue
		}
		list := m.Mutable(f).List()
		if list.Len() == 0 && rows > 0 && token != fields.ByName("next_page_token") {
			list.Append(protoreflect.ValueOfMessage(made(f.Message(), list.NewElement().Message(), 3)))
		}
		had := list.Len()
		list.Truncate(min(had, rows))
		for n := list.Len(); n < rows && had > 0; n++ {
			list.Append(protoreflect.ValueOfMessage(yearsBefore(list.Get(n%had).Message(), n/had)))
		}
	}
}

// yearsBefore is a thing some years earlier: nobody does two hundred visits a year.
func yearsBefore(m protoreflect.Message, years int) protoreflect.Message {
	m = proto.Clone(m.Interface()).ProtoReflect()
	m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		if f.Message() == nil || f.IsList() || f.IsMap() {
			return true
		}
		if d, ok := v.Message().Interface().(*date.Date); ok {
			d.Year -= int32(years)
			d.Day = min(d.Day, 28)
		}
		return true
	})
	return m
}

// Names that are longer than a page is prepared for.
const (
	longWord = "Langenfelderbachwiesenthalhohenstegmuehlenhofgrabenrieder"
	longTail = "-0000000000000000000000000000000000000000" // of a part's number, to forty characters
	longMost = 80
	partMost = 40
)

// spoken are the fields that hold what somebody wrote as they liked.
var spoken = regexp.MustCompile(`^(title|text|full_name|notes?|reason|town|doc_ref|symptom|cause|remedy|asker|question|supplier|workshop|done_by|recorded_by|offered_by|address|postal_lines|address_lines|wording|caption|meanwhile|word|label|matched_text|server_answer|evidence|drawing|outcome|reply|subject|deed|actor|because|lot|component_serial|email|plate|frame_number|tools|cautions?|workshop_notes|position_title|sentences?|source_mark|stated_by|signed_by|finish_note)$`)

// drawOut makes names, texts and the numbers of parts long.
func drawOut(m protoreflect.Message) {
	m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		name := string(f.Name())
		switch {
		case f.IsMap():
		case f.IsList():
			list := v.List()
			for i := range list.Len() {
				if f.Message() != nil {
					drawOut(list.Get(i).Message())
				} else if f.Kind() == protoreflect.StringKind {
					list.Set(i, protoreflect.ValueOfString(longer(name, list.Get(i).String())))
				}
			}
			for name == "postal_lines" && list.Len() < 6 {
				list.Append(protoreflect.ValueOfString(longer(name, "Line")))
			}
		case f.Message() != nil:
			drawOut(v.Message())
		case f.Kind() == protoreflect.StringKind:
			m.Set(f, protoreflect.ValueOfString(longer(name, v.String())))
		}
		return true
	})
}

// longer draws out the value of a field, if it is one that is written freely or
// names a part.
func longer(field, value string) string {
	switch {
	case strings.HasPrefix(value, "parts/") && len(value) < partMost:
		return value + longTail[:len("parts/")+partMost-len(value)]
	case !spoken.MatchString(field) || value == "":
		return value
	case field == "email":
		return strings.Repeat(longWord, 2)[:64] + "@" + longWord + ".example"
	}
	word := longWord + strings.ToLower(longWord)
	if strings.ContainsRune(value, ' ') { // a sentence keeps its words
		return value + " " + word[:longMost]
	}
	return value + word[:max(longMost-len(value), 1)]
}

var drawn = regexp.MustCompile(`-0{20,}`)

// drawIn takes out of a question what drawOut put in, and says whether it asks for
// a page that resize made up.
func drawIn(m protoreflect.Message) (madeUp bool) {
	m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		switch {
		case f.IsMap() || f.IsList():
		case f.Message() != nil:
			drawIn(v.Message())
		case f.Kind() == protoreflect.StringKind && v.String() == furtherOn:
			madeUp = true
			m.Clear(f)
		case f.Kind() == protoreflect.StringKind:
			m.Set(f, protoreflect.ValueOfString(drawn.ReplaceAllString(v.String(), "")))
		}
		return true
	})
	return madeUp
}

// made fills a message of a list that the demo has nothing in.
func made(d protoreflect.MessageDescriptor, m protoreflect.Message, depth int) protoreflect.Message {
	switch d.FullName() {
	case "google.type.Date":
		proto.Merge(m.Interface(), demoDay())
		return m
	case "google.protobuf.Timestamp":
		m.Set(d.Fields().ByName("seconds"), protoreflect.ValueOfInt64(1_779_100_000))
		return m
	}
	fields := d.Fields()
	for i := range fields.Len() {
		f := fields.Get(i)
		if f.IsMap() || f.ContainingOneof() != nil && f.ContainingOneof().Fields().Get(0) != f {
			continue
		}
		if f.IsList() {
			if depth > 0 && f.Message() != nil {
				list := m.Mutable(f).List()
				list.Append(protoreflect.ValueOfMessage(made(f.Message(), list.NewElement().Message(), depth-1)))
			}
			continue
		}
		switch f.Kind() {
		case protoreflect.MessageKind:
			if depth > 0 {
				made(f.Message(), m.Mutable(f).Message(), depth-1)
			}
		case protoreflect.StringKind:
			m.Set(f, protoreflect.ValueOfString(madeText(d, f)))
		case protoreflect.EnumKind:
			m.Set(f, protoreflect.ValueOfEnum(f.Enum().Values().Get(f.Enum().Values().Len()-1).Number()))
		case protoreflect.Int32Kind:
			m.Set(f, protoreflect.ValueOfInt32(3))
		case protoreflect.Int64Kind:
			m.Set(f, protoreflect.ValueOfInt64(3_000_000))
		}
	}
	return m
}

var inBraces = regexp.MustCompile(`\{\w+\}`)

// madeText gives a field a value of its kind.
func madeText(d protoreflect.MessageDescriptor, f protoreflect.FieldDescriptor) string {
	name := string(f.Name())
	if name == "name" {
		if r, ok := proto.GetExtension(d.Options(), annotations.E_Resource).(*annotations.ResourceDescriptor); ok && len(r.GetPattern()) > 0 {
			return inBraces.ReplaceAllString(strings.ReplaceAll(r.GetPattern()[0], "{serial}", aldermoor.TourSerial), "made-up")
		}
	}
	switch {
	case name == "vehicle" || name == "build":
		return name + "s/" + aldermoor.TourSerial
	case name == "part":
		return "parts/AP-1010"
	case slices.Contains([]string{"value", "entered_value", "target", "upper", "lower"}, name):
		return "12"
	case strings.HasSuffix(name, "unit"):
		return "mi"
	}
	return strings.ReplaceAll(name, "_", " ")
}
