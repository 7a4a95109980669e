package accessgate

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	"halfshaft/services/access"
	"halfshaft/services/internal/privacy"
	"halfshaft/services/internal/privacy/privacytest"
)

// TestNoDealerSeesWhatIsNotSaidToBeForDealers walks every method that a dealer
// may call: the answer has a marker in every field at every depth, and what
// comes through the gate has none of a personal field that is not said to be
// for dealers, and all the others.
func TestNoDealerSeesWhatIsNotSaidToBeForDealers(t *testing.T) {
	s, callers := sees(t)
	methods, hidden, kept := 0, 0, 0
	for name, rule := range access.Table() {
		if !rule.Roles.Has(access.Dealer) || !strings.HasPrefix(name, "/halfshaft.") {
			continue
		}
		method := methodNamed(t, name)
		methods++
		for variant := range 4 { // oneofs have at most so many
			answer := newOf(t, method.Output())
			var personal, open []string
			privacytest.Fill(answer.ProtoReflect(), func(fd protoreflect.FieldDescriptor) string {
				marker := fmt.Sprintf("zqm%06dk", len(personal)+len(open))
				if keptFromDealers(fd) {
					personal = append(personal, marker)
				} else {
					open = append(open, marker)
				}
				return marker
			}, func(fd protoreflect.FieldDescriptor) bool {
				o := fd.ContainingOneof()
				return o.Fields().Get(variant%o.Fields().Len()) == fd
			})
			got, err := s.call(forwards(callers[access.Dealer]), name, theirOwn(t, method, rule), func(context.Context, any) (any, error) { return answer, nil })
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			left := textsOf(got.(proto.Message))
			for _, marker := range personal {
				if slices.ContainsFunc(left, func(text string) bool { return strings.Contains(text, marker) }) {
					t.Errorf("%s: a dealer sees %s", name, marker)
				}
			}
			hidden += len(personal)
			kept += len(left)
			privacytest.Walk(got.(proto.Message).ProtoReflect(), func(_ protoreflect.Message, fd protoreflect.FieldDescriptor, _ protoreflect.Value) {
				if keptFromDealers(fd) {
					t.Errorf("%s: a dealer sees %s", name, fd.FullName())
				}
			})
		}
	}
	if methods < 15 || hidden < 50 || kept < 500 {
		t.Errorf("only %d methods, %d hidden and %d kept fields were seen", methods, hidden, kept)
	}
	t.Logf("%d methods, %d fields hidden, %d kept", methods, hidden, kept)
}

// keptFromDealers reports whether a field is kept from dealers by what it says itself.
func keptFromDealers(fd protoreflect.FieldDescriptor) bool {
	said := privacy.Of(fd)
	return said != nil && !said.GetDealer()
}

func methodNamed(t *testing.T, full string) protoreflect.MethodDescriptor {
	t.Helper()
	service, name, _ := strings.Cut(strings.TrimPrefix(full, "/"), "/")
	d, err := protoregistry.GlobalFiles.FindDescriptorByName(protoreflect.FullName(service))
	if err != nil {
		t.Fatal(err)
	}
	return d.(protoreflect.ServiceDescriptor).Methods().ByName(protoreflect.Name(name))
}

func newOf(t *testing.T, md protoreflect.MessageDescriptor) proto.Message {
	t.Helper()
	mt, err := protoregistry.GlobalTypes.FindMessageByName(md.FullName())
	if err != nil {
		t.Fatal(err)
	}
	return mt.New().Interface()
}

// theirOwn is a request about the vehicle that the dealer may see.
func theirOwn(t *testing.T, method protoreflect.MethodDescriptor, rule access.Rule) proto.Message {
	t.Helper()
	r := newOf(t, method.Input())
	for _, n := range rule.Names {
		m := r.ProtoReflect()
		steps := strings.Split(n.Field, ".")
		for _, step := range steps[:len(steps)-1] {
			m = m.Mutable(m.Descriptor().Fields().ByName(protoreflect.Name(step))).Message()
		}
		name := strings.NewReplacer("{serial}", "AM0147P", "{organisation}", "ferncombe", "{assignment}", "1", "{reading}", "1",
			"{service_entry}", "1", "{use_fact}", "1").Replace(n.Form)
		m.Set(m.Descriptor().Fields().ByName(protoreflect.Name(steps[len(steps)-1])), protoreflect.ValueOfString(name))
	}
	return r
}

// textsOf gives every text of a message, of lists each.
func textsOf(m proto.Message) (out []string) {
	privacytest.Walk(m.ProtoReflect(), func(_ protoreflect.Message, fd protoreflect.FieldDescriptor, v protoreflect.Value) {
		switch {
		case fd.IsMap() || fd.Message() != nil:
		case fd.IsList():
			for i := range v.List().Len() {
				out = append(out, v.List().Get(i).String())
			}
		case fd.Kind() == protoreflect.StringKind:
			out = append(out, v.String())
		case fd.Kind() == protoreflect.BytesKind:
			out = append(out, string(v.Bytes()))
		}
	})
	return out
}
