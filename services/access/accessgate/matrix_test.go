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
	method := "/halfshaft.build.v1.InventedService/PaintBuild"
	if got, want := accessgate.Unclassified(access.Table(), service), []string{method}; !slices.Equal(got, want) {
		t.Errorf("unclassified: got %v, want %v", got, want)
	}

	// And at the door nobody gets in, the administrator no more than others.
	d := newDoorWith(t, method, service.Methods().Get(0))
	for _, role := range access.AllRoles() {
		err := d.as(role).Invoke(t.Context(), method, dynamicpb.NewMessage(service.Methods().Get(0).Input()),
			dynamicpb.NewMessage(service.Methods().Get(0).Output()))
		if status.Code(err) != codes.PermissionDenied {
			t.Errorf("the role %s: got %v, want PERMISSION_DENIED", role, err)
		}
	}
}

// newDoorWith is a door with one method more, which the table does not know.
func newDoorWith(t *testing.T, method string, m protoreflect.MethodDescriptor) *door {
	t.Helper()
	return newDoor(t, func(d *door) {
		d.server.RegisterService(&grpc.ServiceDesc{
			ServiceName: string(m.Parent().FullName()), HandlerType: (*any)(nil),
			Methods: []grpc.MethodDesc{{MethodName: string(m.Name()), Handler: func(srv any, ctx context.Context, dec func(any) error, in grpc.UnaryServerInterceptor) (any, error) {
				request := dynamicpb.NewMessage(m.Input())
				if err := dec(request); err != nil {
					return nil, err
				}
				return in(ctx, request, &grpc.UnaryServerInfo{Server: srv, FullMethod: method}, func(context.Context, any) (any, error) {
					return dynamicpb.NewMessage(m.Output()), nil
				})
			}}},
		}, nil)
	})
}

// object is what a request is about, seen from the owner of these tests.
type object string

const (
	own     object = "own"
	other   object = "other"
	missing object = "missing"
)

// request makes the method's request about the object.
func request(t *testing.T, m protoreflect.MethodDescriptor, rule access.Rule, about object) proto.Message {
	t.Helper()
	kind, err := protoregistry.GlobalTypes.FindMessageByName(m.Input().FullName())
	if err != nil {
		t.Fatal(err)
	}
	out := kind.New()
	serials := map[object]string{own: string(ownSerial), other: string(otherSerial), missing: string(missingSerial)}
	people := map[object]string{own: ownPerson, other: otherPerson, missing: missingPerson}
	for _, n := range rule.Names {
		value := strings.ReplaceAll(n.Form, "{serial}", serials[about])
		if n.OfPerson() {
			value = strings.ReplaceAll(n.Form, "people/{person}", people[about])
		}
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

// TestEveryMethodAsEveryRoleAboutEveryObject calls all of them through the real
// gate, compares each with the table, and keeps the whole as a golden file for
// people to read: testdata/matrix.golden.
func TestEveryMethodAsEveryRoleAboutEveryObject(t *testing.T) {
	d := newDoor(t)
	table := access.Table()
	roles := append([]access.Role{access.Nobody}, access.AllRoles()...)
	lines := map[string]string{}
	cells := 0
	for _, s := range halfshaftServices() {
		for i := range s.Methods().Len() {
			m := s.Methods().Get(i)
			rule := table[fmt.Sprintf("/%s/%s", s.FullName(), m.Name())]
			for _, role := range roles {
				objects := []object{own, other, missing}
				if len(rule.Names) == 0 {
					objects = objects[:1]
				}
				var got []string
				for _, about := range objects {
					cells++
					result := outcome(call(t, d.as(role), m, request(t, m, rule, about)))
					if want := tabled(rule, role, about); result != want {
						t.Errorf("%s as %s about %s: got %q, want %q", m.FullName(), role, about, result, want)
					}
					got = append(got, result)
				}
				line := fmt.Sprintf("%s.%s", s.Name(), m.Name())
				lines[line] += fmt.Sprintf(" | %s: %s", role, strings.Join(slices.Compact(got), ", "))
			}
		}
	}
	t.Logf("%d cells", cells)
	var b strings.Builder
	b.WriteString("What each role gets. Where there are two answers, the first is for what is theirs, the second for what is not or is not there.\n\n")
	for _, name := range slices.Sorted(maps.Keys(lines)) {
		fmt.Fprintf(&b, "%s%s\n", name, lines[name])
	}
	golden(t, "testdata/matrix.golden", b.String())
}

// tabled is what the table says, worked out apart from the gate.
func tabled(rule access.Rule, role access.Role, about object) string {
	switch {
	case role == access.Nobody:
		return "no key" // no method of ours is for everybody
	case !rule.Roles.Has(role):
		return "denied"
	case role == access.Owner && len(rule.Names) > 0 && about != own:
		return "unseen"
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
	seen := 0
	for _, s := range halfshaftServices() {
		for i := range s.Methods().Len() {
			m := s.Methods().Get(i)
			rule := table[fmt.Sprintf("/%s/%s", s.FullName(), m.Name())]
			if len(rule.Names) == 0 || !rule.Roles.Has(access.Owner) {
				continue
			}
			seen++
			text := func(about object) string {
				st := status.Convert(call(t, d.as(access.Owner), m, request(t, m, rule, about)))
				text := prototext.Format(st.Proto())
				for _, id := range []string{string(otherSerial), string(missingSerial), "p0002", "p0009"} {
					text = strings.ReplaceAll(text, id, "X")
				}
				return strings.Join(strings.Fields(text), " ") // the printer's spacing is random on purpose
			}
			if other, missing := text(other), text(missing); other != missing {
				t.Errorf("%s: another's: %s\nmissing: %s", m.FullName(), other, missing)
			}
		}
	}
	if seen < 12 {
		t.Errorf("an owner has %d methods about something, want at least 12", seen)
	}
}
