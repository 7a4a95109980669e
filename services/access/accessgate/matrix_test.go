package accessgate_test

import (
	"context"
	"flag"
	"fmt"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protodesc"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/descriptorpb"
	"google.golang.org/protobuf/types/dynamicpb"

	"halfshaft/services/access"
	"halfshaft/services/access/accessgate"
)

var update = flag.Bool("update", false, "write the golden files anew; read their diff")

// halfshaftServices gives every service of ours that is linked in.
func halfshaftServices() []protoreflect.ServiceDescriptor {
	var out []protoreflect.ServiceDescriptor
	protoregistry.GlobalFiles.RangeFiles(func(f protoreflect.FileDescriptor) bool {
		for i := range f.Services().Len() {
			if strings.HasPrefix(string(f.Package()), "halfshaft.") {
				out = append(out, f.Services().Get(i))
			}
		}
		return true
	})
	return out
}

func TestEveryMethodIsClassified(t *testing.T) {
	services := halfshaftServices()
	if len(services) < 6 {
		t.Fatalf("saw %d services: the imports no longer register them", len(services))
	}
	for _, s := range services {
		for _, method := range accessgate.Unclassified(access.Table(), s) {
			t.Errorf("%s has no rule in services/access/table.go: who may call it?", method)
		}
	}
}

func TestEveryRuleIsAboutAMethod(t *testing.T) {
	known := map[string]bool{}
	for _, s := range halfshaftServices() {
		for i := range s.Methods().Len() {
			known[fmt.Sprintf("/%s/%s", s.FullName(), s.Methods().Get(i).Name())] = true
		}
	}
	for method := range access.Table() {
		if strings.HasPrefix(method, "/halfshaft.") && !known[method] {
			t.Errorf("%s has a rule and does not exist", method)
		}
	}
}

func TestANewMethodFailsUntilItIsClassified(t *testing.T) {
	const invented = `
		name: "invented.proto" package: "halfshaft.build.v1" syntax: "proto3"
		message_type { name: "Nothing" }
		service { name: "InventedService"
			method { name: "PaintBuild" input_type: ".halfshaft.build.v1.Nothing" output_type: ".halfshaft.build.v1.Nothing" } }`
	var text descriptorpb.FileDescriptorProto
	if err := prototext.Unmarshal([]byte(invented), &text); err != nil {
		t.Fatal(err)
	}
	file, err := protodesc.NewFile(&text, nil)
	if err != nil {
		t.Fatal(err)
	}
	service := file.Services().Get(0)
	const paint = "/halfshaft.build.v1.InventedService/PaintBuild"
	if got, want := accessgate.Unclassified(access.Table(), service), []string{paint}; !slices.Equal(got, want) {
		t.Errorf("unclassified: got %v, want %v", got, want)
	}

	// And at the door nobody gets in, the administrator no more than others.
	d := newDoorWith(t, service.Methods().Get(0))
	for _, role := range access.AllRoles() {
		err := d.as(role).Invoke(t.Context(), paint, dynamicpb.NewMessage(service.Methods().Get(0).Input()),
			dynamicpb.NewMessage(service.Methods().Get(0).Output()))
		if status.Code(err) != codes.PermissionDenied {
			t.Errorf("the role %s: got %v, want PERMISSION_DENIED", role, err)
		}
	}
}

// newDoorWith is a door with one method more, which the table does not know.
func newDoorWith(t *testing.T, m protoreflect.MethodDescriptor) *door {
	t.Helper()
	return newDoor(t, func(d *door) {
		d.server.RegisterService(&grpc.ServiceDesc{
			ServiceName: string(m.Parent().FullName()), HandlerType: (*any)(nil),
			Methods: []grpc.MethodDesc{method(m, func(context.Context, any) (any, error) { return dynamicpb.NewMessage(m.Output()), nil })},
		}, nil)
	})
}

// object is what a request is about, seen from the owner and the dealer of
// Ferncombe of these tests; see door_test.go.
type object string

const (
	own      object = "own"
	assigned object = "assigned"
	other    object = "other"
	former   object = "former"
	missing  object = "missing"
)

var objects = []object{own, assigned, other, former, missing}

// The names of each object: a vehicle's serial, a person, an organisation.
var (
	serials = map[object]string{
		own: string(ownSerial), assigned: string(assignedSerial), other: string(otherSerial),
		former: string(formerSerial), missing: string(missingSerial)}
	persons       = map[object]string{own: ownPerson, assigned: otherPerson, other: otherPerson, former: formerPerson, missing: missingPerson}
	organisations = map[object]string{own: ferncombe, assigned: ferncombe, other: millbeck, former: oldBarn, missing: nowhere}
)

// request makes the method's request about the object.
func request(t *testing.T, m protoreflect.MethodDescriptor, rule access.Rule, about object) proto.Message {
	t.Helper()
	kind, err := protoregistry.GlobalTypes.FindMessageByName(m.Input().FullName())
	if err != nil {
		t.Fatal(err)
	}
	out := kind.New()
	for _, n := range rule.Names {
		value := strings.ReplaceAll(n.Form, "{serial}", serials[about])
		value = strings.ReplaceAll(value, "people/{person}", persons[about])
		value = strings.ReplaceAll(value, "organisations/{organisation}", organisations[about])
		if i := strings.IndexByte(value, '{'); i >= 0 {
			value = value[:i] + "x1"
		}
		at := out
		path := strings.Split(n.Field, ".")
		for _, part := range path[:len(path)-1] {
			at = at.Mutable(at.Descriptor().Fields().ByName(protoreflect.Name(part))).Message()
		}
		at.Set(at.Descriptor().Fields().ByName(protoreflect.Name(path[len(path)-1])), protoreflect.ValueOfString(value))
	}
	return out.Interface()
}

// call calls the method and gives what the gate let come of it.
func call(t *testing.T, over grpc.ClientConnInterface, m protoreflect.MethodDescriptor, in proto.Message) error {
	t.Helper()
	full := fmt.Sprintf("/%s/%s", m.Parent().FullName(), m.Name())
	out := dynamicpb.NewMessage(m.Output())
	if !m.IsStreamingServer() {
		return over.Invoke(t.Context(), full, in, out)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	s, err := over.NewStream(ctx, &grpc.StreamDesc{ServerStreams: true}, full)
	if err != nil {
		return err
	}
	if err := s.SendMsg(in); err != nil {
		return err
	}
	if err := s.CloseSend(); err != nil {
		return err
	}
	return s.RecvMsg(out)
}

// outcome names what came of a call. A method that was let through answers
// UNIMPLEMENTED, or well where these tests gave it an answer.
func outcome(err error) string {
	switch c := status.Code(err); c {
	case codes.OK, codes.Unimplemented:
		return "in"
	case codes.PermissionDenied:
		return "denied"
	case codes.NotFound:
		return "unseen"
	case codes.Unauthenticated:
		return "no key"
	default:
		return c.String()
	}
}

// who calls in the matrix.
type visitor struct {
	name   string
	role   access.Role
	secret string
}

func (d *door) visitors() []visitor {
	out := []visitor{{"nobody", access.Nobody, ""}}
	for _, role := range access.AllRoles() {
		out = append(out, visitor{role.String(), role, d.secrets[role]})
		if role == access.Dealer {
			out = append(out, visitor{"another dealer", role, d.millbeck})
		}
	}
	return out
}

// TestEveryMethodAsEveryRoleAboutEveryObject calls all of them through the real
// gate, compares each with the table, and keeps the whole as a golden file for
// people to read: testdata/matrix.golden.
func TestEveryMethodAsEveryRoleAboutEveryObject(t *testing.T) {
	d := newDoor(t)
	table := access.Table()
	lines := map[string]string{}
	cells := 0
	for _, s := range halfshaftServices() {
		for i := range s.Methods().Len() {
			m := s.Methods().Get(i)
			rule := table[fmt.Sprintf("/%s/%s", s.FullName(), m.Name())]
			for _, v := range d.visitors() {
				over := accessgate.Present(d.tcp, v.secret)
				got := map[string][]string{}
				var order []string
				about := objects
				if len(rule.Names) == 0 {
					about = objects[:1] // a request that names nothing is the same about all
				}
				for _, about := range about {
					cells++
					result := outcome(call(t, over, m, request(t, m, rule, about)))
					if want := tabled(rule, v, about); result != want {
						t.Errorf("%s as %s about %s: got %q, want %q", m.FullName(), v.name, about, result, want)
					}
					if !slices.Contains(order, result) {
						order = append(order, result)
					}
					got[result] = append(got[result], string(about))
				}
				line := fmt.Sprintf("%s.%s", s.Name(), m.Name())
				lines[line] += fmt.Sprintf(" | %s: %s", v.name, told(order, got))
			}
		}
	}
	t.Logf("%d cells", cells)
	var b strings.Builder
	b.WriteString("What each caller gets. Where it depends on what the request is about, that stands in brackets: " +
		"own is the owner's, assigned is assigned to the dealer, other is somebody else's and assigned to another dealer, " +
		"former was the owner's and assigned to the dealer, and missing was never there.\n\n")
	for _, name := range slices.Sorted(maps.Keys(lines)) {
		fmt.Fprintf(&b, "%s%s\n", name, lines[name])
	}
	golden(t, "testdata/matrix.golden", b.String())
}

// told writes what a caller got about which objects.
func told(order []string, got map[string][]string) string {
	if len(order) == 1 {
		return order[0]
	}
	var out []string
	for _, result := range order {
		out = append(out, result+" ("+strings.Join(got[result], " ")+")")
	}
	return strings.Join(out, ", ")
}

// tabled is what the table says, worked out apart from the gate: by the story
// of the objects alone.
func tabled(rule access.Rule, v visitor, about object) string {
	if v.role == access.Nobody {
		return "no key" // no method of ours is for everybody
	}
	if !rule.Roles.Has(v.role) {
		return "denied"
	}
	for _, n := range rule.Names {
		theirs := map[string][]object{
			"owner vehicle": {own}, "owner person": {own},
			"dealer vehicle": {assigned}, "dealer organisation": {own, assigned},
			"another dealer vehicle": {other}, "another dealer organisation": {other},
		}[v.name+" "+map[bool]string{true: "person"}[strings.HasPrefix(n.Form, "people/")]+
			map[bool]string{true: "organisation"}[strings.HasPrefix(n.Form, "organisations/")]+
			map[bool]string{true: "vehicle"}[strings.Contains(n.Form, "{serial}")]]
		limited := v.role == access.Owner || v.role == access.Dealer
		if limited && !slices.Contains(theirs, about) {
			return "unseen"
		}
	}
	return "in"
}

func golden(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", path, diff)
	}
}

func TestWhatIsNotTheirsLooksLikeWhatIsNotThere(t *testing.T) {
	d := newDoor(t)
	table := access.Table()
	seen := map[access.Role]int{}
	for _, s := range halfshaftServices() {
		for i := range s.Methods().Len() {
			m := s.Methods().Get(i)
			rule := table[fmt.Sprintf("/%s/%s", s.FullName(), m.Name())]
			for _, v := range d.visitors() {
				if len(rule.Names) == 0 || !rule.Roles.Has(v.role) || v.role != access.Owner && v.role != access.Dealer {
					continue
				}
				seen[v.role]++
				text := func(about object) string {
					st := status.Convert(call(t, accessgate.Present(d.tcp, v.secret), m, request(t, m, rule, about)))
					text := prototext.Format(st.Proto())
					for _, names := range []map[object]string{serials, persons, organisations} {
						_, id, _ := strings.Cut("/"+names[about], "/")
						text = strings.ReplaceAll(text, id, "X")
						text = strings.ReplaceAll(text, id[strings.IndexByte(id, '/')+1:], "X")
					}
					return strings.Join(strings.Fields(text), " ") // the printer's spacing is random on purpose
				}
				want := text(missing)
				for _, about := range objects {
					if got := text(about); tabled(rule, v, about) == "unseen" && got != want {
						t.Errorf("%s as %s about %s: %s\nmissing: %s", m.FullName(), v.name, about, got, want)
					}
				}
			}
		}
	}
	if seen[access.Owner] < 12 || seen[access.Dealer] < 12 {
		t.Errorf("%v methods about something, want at least 12 for each", seen)
	}
}
