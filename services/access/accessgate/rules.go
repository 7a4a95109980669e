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
	names []name
}

type name struct {
	access.Name
	path []protoreflect.FieldDescriptor
}

// compile looks up the fields of the table's rules in the descriptors linked
// into this program. A method that is not linked in cannot be called here, and
// its rule is left out; a field that its request lacks is an error.
func compile(table map[string]access.Rule, files *protoregistry.Files) (map[string]rule, error) {
	rules := make(map[string]rule, len(table))
	for method, r := range table {
		compiled := rule{Rule: r}
		if len(r.Names) > 0 {
			dotted := strings.ReplaceAll(strings.TrimPrefix(method, "/"), "/", ".")
			d, err := files.FindDescriptorByName(protoreflect.FullName(dotted))
			if err != nil {
				continue
			}
			m, ok := d.(protoreflect.MethodDescriptor)
			if !ok {
				return nil, fmt.Errorf("the rule for %s is not about a method", method)
			}
			for _, n := range r.Names {
				path, err := lookUp(m.Input(), n.Field)
				if err != nil {
					return nil, fmt.Errorf("the rule for %s: %w", method, err)
				}
				compiled.names = append(compiled.names, name{n, path})
			}
		}
		rules[method] = compiled
	}
	return rules, nil
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

// read gives the value of the field in a request; empty when a message on the
// way is absent.
func (n name) read(request proto.Message) string {
	m := request.ProtoReflect()
	last := len(n.path) - 1
	for _, f := range n.path[:last] {
		m = m.Get(f).Message()
	}
	return m.Get(n.path[last]).String()
}

// allVehicles is the parent that stands for every vehicle.
const allVehicles = "vehicles/-"

// theirs decides whether what the request names is the limited caller's own:
// nil, or the very refusal of a thing that is not there. A name that cannot be
// read is refused in the words the method itself would use, and never let
// through: the method might read it otherwise.
func (n name) theirs(request proto.Message, caller access.Caller, has func(vehicle.Serial) bool) error {
	value := n.read(request)
	if n.OfPerson() {
		ids, err := resname.Match(n.Field, n.Form, value)
		if err != nil {
			return err
		}
		if caller.Person == "" || "people/"+ids[0] != caller.Person {
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
	short := method[strings.LastIndexByte(method, '/')+1:]
	return fault.New(fault.Denied, "ROLE_MAY_NOT", "The role %s may not call %s.", caller.Role, short)
}
