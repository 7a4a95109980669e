package privacy_test

import (
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"pgregory.net/rapid"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/privacy"
	"halfshaft/services/internal/privacy/privacytest"
)

func TestAnErrorDoesNotRepeatWhatIsPersonal(t *testing.T) {
	created := &ownerv1.CreatePersonRequest{Person: &ownerv1.Person{FullName: "Edith\nMarlowe", Email: "edith at marlowe", Language: "xx", DistanceUnit: "furlong"}}
	for name, c := range map[string]struct {
		request proto.Message
		field   fault.Field
		want    fault.Field
	}{
		"a field of a message in the request": {created,
			fault.Field{Name: "person.email", Got: "edith at marlowe", Want: "one address"},
			fault.Field{Name: "person.email", Got: "(not repeated here: 16 characters)", Want: "one address"}},
		"a field of one character": {created,
			fault.Field{Name: "person.email", Got: "x", Want: "one address"},
			fault.Field{Name: "person.email", Got: "(not repeated here: 1 character)", Want: "one address"}},
		"a field in a list, through a oneof": {&ownerv1.StageImportRequest{},
			fault.Field{Name: "rows[3].person.phone", Got: "0632", Want: "E.164"},
			fault.Field{Name: "rows[3].person.phone", Got: "(not repeated here: 4 characters)", Want: "E.164"}},
		"one line of a list": {created,
			fault.Field{Name: "person.postal_lines[2]", Got: "3 Mill Lane", Want: "one line"},
			fault.Field{Name: "person.postal_lines[2]", Got: "(not repeated here: 11 characters)", Want: "one line"}},
		"a path that leads nowhere in a personal message": {created,
			fault.Field{Name: "person.telephone", Got: "0632", Want: "phone"},
			fault.Field{Name: "person.telephone", Got: "(not repeated here: 4 characters)", Want: "phone"}},
		"a secret, of which not even the length is told": {&ownerv1.AcceptTransferRequest{},
			fault.Field{Name: "code", Got: "7Q4K-M2XW", Want: "twelve characters"},
			fault.Field{Name: "code", Got: "(not repeated here)", Want: "twelve characters"}},
		"what was wanted repeats what was got": {created,
			fault.Field{Name: "person.email", Got: "edith at marlowe", Want: "not edith at marlowe"},
			fault.Field{Name: "person.email", Got: "(not repeated here: 16 characters)", Want: "not …"}},
		"another field got what is personal elsewhere": {created,
			fault.Field{Name: "request_id", Got: "id of edith at marlowe", Want: "a UUID"},
			fault.Field{Name: "request_id", Got: "(not repeated here: 22 characters)", Want: "a UUID"}},
		"nothing was got": {created,
			fault.Field{Name: "person.full_name", Want: "a name"}, fault.Field{Name: "person.full_name", Want: "a name"}},
		"the check itself says only how long it is": {created,
			fault.Field{Name: "person.full_name", Got: "13 characters", Want: "one line"},
			fault.Field{Name: "person.full_name", Got: "13 characters", Want: "one line"}},
		"a field that is not personal": {created,
			fault.Field{Name: "request_id", Got: "seven", Want: "a UUID"}, fault.Field{Name: "request_id", Got: "seven", Want: "a UUID"}},
		"a request without anything personal": {&schedulev1.GetScheduleRequest{Name: "vehicles/XX"},
			fault.Field{Name: "serial", Got: "XX", Want: "a serial"}, fault.Field{Name: "serial", Got: "XX", Want: "a serial"}},
		"a broken path": {created,
			fault.Field{Name: "person[", Got: "edith", Want: "?"}, fault.Field{Name: "person[", Got: "edith", Want: "?"}},
		"an empty path": {created, fault.Field{Got: "2 people", Want: "one"}, fault.Field{Got: "2 people", Want: "one"}},
	} {
		given := []fault.Field{c.field}
		got := privacy.Redact(c.request, given)
		if !slices.Equal(got, []fault.Field{c.want}) {
			t.Errorf("%s: got %v, want %v", name, got, c.want)
		}
		if given[0] != c.field {
			t.Errorf("%s: the given fields were changed", name)
		}
	}
	if got := privacy.Redact(nil, []fault.Field{{Name: "a"}}); len(got) != 1 {
		t.Errorf("without a request: %v", got)
	}
}

// However a field is named and wherever a marker stands, what was got of a
// personal field never comes back.
func TestNoMarkerOfAPersonalFieldComesBack(t *testing.T) {
	types := allMessages()
	rapid.Check(t, func(t *rapid.T) {
		mt := rapid.SampledFrom(types).Draw(t, "type")
		m := mt.New()
		var marked []string
		privacytest.Fill(m, func(fd protoreflect.FieldDescriptor) string {
			if privacy.Of(fd) == nil {
				return "plain"
			}
			marked = append(marked, string(fd.Name()))
			return "marker-" + string(fd.Name())
		}, func(protoreflect.FieldDescriptor) bool { return true })
		if len(marked) == 0 {
			t.Skip("nothing personal")
		}
		name := rapid.SampledFrom(append(marked, "", "a.b", "x[", "rows[0].person.email", "person.email")).Draw(t, "name")
		got := "got marker-" + rapid.SampledFrom(marked).Draw(t, "got") + "!"
		out := privacy.Redact(m.Interface(), []fault.Field{{Name: name, Got: got, Want: "not " + got}})
		personalText := strings.Contains(out[0].Got, "marker-") || strings.Contains(out[0].Want, "marker-")
		if personalText && quotesText(m, got) {
			t.Fatalf("%s, %q: %v", mt.Descriptor().FullName(), name, out[0])
		}
	})
}

// quotesText reports whether a text repeats a personal string of a message.
func quotesText(m protoreflect.Message, text string) (found bool) {
	privacytest.Walk(m, func(_ protoreflect.Message, fd protoreflect.FieldDescriptor, v protoreflect.Value) {
		if privacy.Of(fd) != nil && fd.Kind() == protoreflect.StringKind && !fd.IsList() {
			found = found || strings.Contains(text, v.String())
		}
	})
	return found
}

func FuzzRedact(f *testing.F) {
	f.Add("person.email", "edith@marlowe.example")
	f.Add("key.person", "people/p1")
	f.Add("rows[3].person.phone", "+441632960983")
	f.Add("person[]].x", "")
	f.Fuzz(func(t *testing.T, name, got string) {
		if len(got) < 6 {
			t.Skip()
		}
		for _, m := range []proto.Message{
			&ownerv1.CreatePersonRequest{Person: &ownerv1.Person{Email: got, PostalLines: []string{got}}},
			&ownerv1.StageImportRequest{Rows: []*ownerv1.OwnerRow{{Row: &ownerv1.OwnerRow_Person{Person: &ownerv1.Person{Phone: got}}}}},
			&accessv1.CreateKeyRequest{Key: &accessv1.Key{Bearer: got}},
		} {
			out := privacy.Redact(m, []fault.Field{{Name: name, Got: got, Want: got}})
			if out[0].Got == got && got != "(not repeated here)" && !strings.HasPrefix(got, "(not repeated") && !strings.HasSuffix(got, " characters") && !strings.HasSuffix(got, "1 character)") && !strings.HasSuffix(got, " bytes") {
				t.Errorf("%q got %q: %v", name, got, out[0])
			}
		}
	})
}
