package accessgate

import (
	"fmt"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
)

// rule is a rule of the table with its fields looked up.
type rule struct {
	access.Rule
	names   []name
	objects [][]protoreflect.FieldDescriptor // what the audit reads as names of objects
	because []protoreflect.FieldDescriptor   // nil: the rule names no field
}

type name struct {
	access.Name
	path []protoreflect.FieldDescriptor
}

// compile looks up the fields of the table's rules in the descriptors linked
// into this program. A method that is not linked in cannot be called here, and
// a rule of it with fields is left out; a field that its request lacks is an
// error.
func compile(table map[string]access.Rule, files *protoregistry.Files) (map[string]*rule, error) {
	rules := make(map[string]*rule, len(table))
	for method, r := range table {
		dotted := strings.ReplaceAll(strings.TrimPrefix(method, "/"), "/", ".")
		d, err := files.FindDescriptorByName(protoreflect.FullName(dotted))
		if err != nil {
			if len(r.Names) == 0 {
				rules[method] = &rule{Rule: r}
			}
			continue
		}
		m, ok := d.(protoreflect.MethodDescriptor)
		if !ok {
			return nil, fmt.Errorf("the rule for %s is not about a method", method)
		}
		if rules[method], err = compileOne(r, m.Input()); err != nil {
			return nil, fmt.Errorf("the rule for %s: %w", method, err)
		}
	}
	return rules, nil
}

func compileOne(r access.Rule, request protoreflect.MessageDescriptor) (*rule, error) {
	out := &rule{Rule: r}
	known := map[string]bool{}
	for _, n := range r.Names {
		path, err := lookUp(request, n.Field)
		if err != nil {
			return nil, err
		}
		known[n.Field] = true
		out.names = append(out.names, name{n, path})
		out.objects = append(out.objects, path)
	}
	for _, field := range namedIn(request) {
		if !known[field] {
			path, err := lookUp(request, field)
			if err != nil {
				return nil, err
			}
			out.objects = append(out.objects, path)
		}
	}
	if r.Because != "" {
		var err error
		if out.because, err = lookUp(request, r.Because); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// namedIn gives the fields of a request that name what it is about by their own
// names: "name", "parent", and the name of a resource that it holds.
func namedIn(request protoreflect.MessageDescriptor) []string {
	var out []string
	for i := range request.Fields().Len() {
		f := request.Fields().Get(i)
		switch m := f.Message(); {
		case f.IsList() || f.IsMap():
		case m == nil:
			if f.Kind() == protoreflect.StringKind && (f.Name() == "name" || f.Name() == "parent") {
				out = append(out, string(f.Name()))
			}
		default:
			if n := m.Fields().ByName("name"); n != nil && n.Kind() == protoreflect.StringKind && !n.IsList() && isOurs(m) {
				out = append(out, string(f.Name())+".name")
			}
		}
	}
	return out
}

func isOurs(m protoreflect.MessageDescriptor) bool {
	return strings.HasPrefix(string(m.FullName()), "halfshaft.")
}

// lookUp finds the fields of a dotted path that ends in a string.
func lookUp(m protoreflect.MessageDescriptor, path string) ([]protoreflect.FieldDescriptor, error) {
	var out []protoreflect.FieldDescriptor
	for part := range strings.SplitSeq(path, ".") {
		if m == nil {
			return nil, fmt.Errorf("%s goes on below a field that is no message", path)
		}
		f := m.Fields().ByName(protoreflect.Name(part))
		if f == nil || f.IsList() || f.IsMap() {
			return nil, fmt.Errorf("%s has no single field %s", m.FullName(), part)
		}
		out, m = append(out, f), f.Message()
	}
	if out[len(out)-1].Kind() != protoreflect.StringKind {
		return nil, fmt.Errorf("%s is no string", path)
	}
	return out, nil
}

// read gives the value of a field of a request; empty when a message on the way
// is absent.
func read(request proto.Message, path []protoreflect.FieldDescriptor) string {
	m := request.ProtoReflect()
	last := len(path) - 1
	for _, f := range path[:last] {
		m = m.Get(f).Message()
	}
	return m.Get(path[last]).String()
}

// allVehicles is the parent that stands for every vehicle.
const allVehicles = "vehicles/-"

// How the names of people and organisations begin.
const (
	people        = "people/"
	organisations = "organisations/"
)

// theirs decides whether what the request names is the limited caller's own:
// nil, or the very refusal of a thing that is not there. A name that cannot be
// read is refused in the words the method itself would use, and never let
// through: the method might read it otherwise.
func (n name) theirs(request proto.Message, caller access.Caller, has func(vehicle.Serial) bool) error {
	value := read(request, n.path)
	if n.OfPerson() || n.OfOrganisation() {
		ids, err := resname.Match(n.Field, n.Form, value)
		if err != nil {
			return err
		}
		switch {
		case n.OfOrganisation() && (caller.Role != access.Dealer || caller.Organisation == "" || organisations+ids[0] != caller.Organisation):
			return access.NoOrganisation(ids[0])
		case n.OfPerson() && (caller.Role != access.Owner || caller.Person == "" || people+ids[0] != caller.Person):
			return access.NoPerson(ids[0])
		}
		return nil
	}
	if n.OwnOfAll && value == allVehicles {
		return nil
	}
	serial, _, err := resname.Serial(n.Field, n.Form, value)
	if err != nil {
		return err
	}
	if !has(serial) {
		return access.NoVehicle(serial)
	}
	return nil
}

// Unclassified gives the methods of a service for which the table has no rule:
// they are refused to everybody until somebody decides.
func Unclassified(table map[string]access.Rule, service protoreflect.ServiceDescriptor) []string {
	var out []string
	for i := range service.Methods().Len() {
		method := fmt.Sprintf("/%s/%s", service.FullName(), service.Methods().Get(i).Name())
		if _, ok := table[method]; !ok {
			out = append(out, method)
		}
	}
	return out
}

// notAllowed refuses a known caller a method.
func notAllowed(caller access.Caller, method string) error {
	return fault.New(fault.Denied, "ROLE_MAY_NOT", "The role %s may not call %s.", caller.Role, short(method))
}

// outOfScope refuses a key a method that its role may call and it may not.
func outOfScope(method string) error {
	return fault.New(fault.Denied, "SCOPE_MAY_NOT", "The scopes of this key do not hold %s.", short(method))
}

func short(method string) string { return method[strings.LastIndexByte(method, '/')+1:] }
