package privacy_test

import (
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/dynamicpb"
	"pgregory.net/rapid"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/privacy"
	"halfshaft/services/internal/privacy/privacytest"
)

func TestADealerGetsAMessageWithoutWhatIsNotSaidToBeForDealers(t *testing.T) {
	person := func() *ownerv1.Person {
		return &ownerv1.Person{Name: "people/p0031", FullName: "Edith Marlowe", Email: "edith@marlowe.example", ContactFromHour: 9, Etag: "a"}
	}
	bare := &ownerv1.Person{Name: "people/p0031", Etag: "a"}
	for name, c := range map[string]struct{ got, want proto.Message }{
		"at the top":          {person(), bare},
		"in a list":           {&ownerv1.ListPeopleResponse{People: []*ownerv1.Person{person(), person()}}, &ownerv1.ListPeopleResponse{People: []*ownerv1.Person{bare, bare}}},
		"in a oneof":          {&ownerv1.OwnerRow{Row: &ownerv1.OwnerRow_Person{Person: person()}}, &ownerv1.OwnerRow{Row: &ownerv1.OwnerRow_Person{Person: bare}}},
		"deep down":           {&ownerv1.FindPeopleResponse{People: []*ownerv1.FoundPerson{{Person: person(), Matched: "name"}}}, &ownerv1.FindPeopleResponse{People: []*ownerv1.FoundPerson{{Person: bare, Matched: "name"}}}},
		"of a kept message":   {&schedulev1.ServiceEntry{DoneBy: "Ferncombe Garage", RecordedBy: "ida"}, &schedulev1.ServiceEntry{DoneBy: "Ferncombe Garage"}},
		"a list of texts":     {&buildv1.Build{KeyNumbers: []string{"K1"}, Plate: "ABC 123"}, &buildv1.Build{Plate: "ABC 123"}},
		"nothing is personal": {&vehiclev1.Quantity{Value: "1", Unit: "mm"}, &vehiclev1.Quantity{Value: "1", Unit: "mm"}},
		"nothing is set":      {&ownerv1.Person{}, &ownerv1.Person{}},
	} {
		privacy.MaskForDealer(c.got)
		if !proto.Equal(c.got, c.want) {
			t.Errorf("%s: got %v, want %v", name, c.got, c.want)
		}
	}
	privacy.MaskForDealer(nil)
	privacy.MaskForDealer((*ownerv1.Person)(nil))
}

// allMessages gives every message type of our protos.
func allMessages() (out []protoreflect.MessageType) {
	seen := map[protoreflect.FullName]bool{}
	privacy.EachField(protoregistry.GlobalFiles, func(fd protoreflect.FieldDescriptor) {
		md := fd.ContainingMessage()
		if mt, err := protoregistry.GlobalTypes.FindMessageByName(md.FullName()); err == nil && !seen[md.FullName()] {
			seen[md.FullName()] = true
			out = append(out, mt)
		}
	})
	return out
}

// plainMask is MaskForDealer once more, without plans: it looks at every field
// that is set.
func plainMask(m protoreflect.Message) {
	privacytest.Walk(m, func(m protoreflect.Message, fd protoreflect.FieldDescriptor, _ protoreflect.Value) {
		if said := privacy.Of(fd); said != nil && !said.GetDealer() {
			m.Clear(fd)
		}
	})
}

func TestOfEveryMessageTheMaskTakesWhatAPlainWalkTakes(t *testing.T) {
	types := allMessages()
	if len(types) < 200 {
		t.Fatalf("only %d types", len(types))
	}
	rapid.Check(t, func(t *rapid.T) {
		mt := rapid.SampledFrom(types).Draw(t, "type")
		m := mt.New()
		texts := rapid.SampledFrom([]string{"", "x", "marker@works.example", "people/p1", "\x00", "ÄÖ"})
		privacytest.Fill(m, func(fd protoreflect.FieldDescriptor) string { return texts.Draw(t, string(fd.Name())) },
			func(fd protoreflect.FieldDescriptor) bool { return rapid.Bool().Draw(t, "choose "+string(fd.Name())) })
		want := proto.Clone(m.Interface())
		plainMask(want.ProtoReflect())
		privacy.MaskForDealer(m.Interface())
		if !proto.Equal(m.Interface(), want) {
			t.Fatalf("%s: got %v, want %v", mt.Descriptor().FullName(), m.Interface(), want)
		}
	})
}

// A message of a type that is not linked in is masked by its descriptor too.
func TestADynamicMessageIsMaskedAsWell(t *testing.T) {
	m := dynamicpb.NewMessage((&ownerv1.Person{}).ProtoReflect().Descriptor())
	m.Set(m.Descriptor().Fields().ByName("email"), protoreflect.ValueOfString("edith@marlowe.example"))
	privacy.MaskForDealer(m)
	if proto.Size(m) != 0 {
		t.Errorf("left %v", m)
	}
}

func FuzzMaskForDealer(f *testing.F) {
	seed, err := proto.Marshal(&ownerv1.ListPeopleResponse{People: []*ownerv1.Person{{Name: "people/p1", Email: "a@b.example"}}})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(seed)
	f.Add([]byte{10, 2, 18, 0})
	f.Fuzz(func(t *testing.T, wire []byte) {
		var m ownerv1.ListPeopleResponse
		if proto.Unmarshal(wire, &m) != nil {
			t.Skip()
		}
		privacy.MaskForDealer(&m)
		privacytest.Walk(m.ProtoReflect(), func(_ protoreflect.Message, fd protoreflect.FieldDescriptor, _ protoreflect.Value) {
			if said := privacy.Of(fd); said != nil && !said.GetDealer() {
				t.Errorf("%s is left", fd.FullName())
			}
		})
	})
}

// The price of a mask, of a page of service entries and of one whole build.
func BenchmarkMaskForDealer(b *testing.B) {
	page := &schedulev1.ListServiceEntriesResponse{}
	for range 50 {
		page.ServiceEntries = append(page.ServiceEntries, &schedulev1.ServiceEntry{
			Name: "vehicles/AM0147P/serviceEntries/1", DoneBy: "Ferncombe Garage", Note: "nothing found",
			Items: []*schedulev1.ItemDone{{ItemId: "E01"}, {ItemId: "T02", Note: "clear"}},
		})
	}
	for name, m := range map[string]proto.Message{"page of 50 entries": page, "build": &buildv1.Build{Name: "builds/AM0147P"}} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				privacy.MaskForDealer(m)
			}
		})
	}
}
