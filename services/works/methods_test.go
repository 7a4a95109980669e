package works_test

import (
	"fmt"
	"iter"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
)

// services are those that the process has registered, by name.
func (w *world) services() map[string]protoreflect.ServiceDescriptor {
	w.t.Helper()
	out := map[string]protoreflect.ServiceDescriptor{}
	for name := range w.process.RegisteredServices() {
		d, err := protoregistry.GlobalFiles.FindDescriptorByName(protoreflect.FullName(name))
		if err != nil {
			w.t.Fatal(err)
		}
		out[name] = d.(protoreflect.ServiceDescriptor)
	}
	return out
}

// fullName is how gRPC calls a method.
func fullName(m protoreflect.MethodDescriptor) string {
	return fmt.Sprintf("/%s/%s", m.Parent().FullName(), m.Name())
}

// message makes an empty one of a type.
func message(t *testing.T, d protoreflect.MessageDescriptor) proto.Message {
	t.Helper()
	kind, err := protoregistry.GlobalTypes.FindMessageByName(d.FullName())
	if err != nil {
		t.Fatal(err)
	}
	return kind.New().Interface()
}

// below gives a type and all that its fields are made of, each once.
func below(md protoreflect.MessageDescriptor) iter.Seq[protoreflect.MessageDescriptor] {
	return func(yield func(protoreflect.MessageDescriptor) bool) {
		seen := map[protoreflect.FullName]bool{md.FullName(): true}
		for open := []protoreflect.MessageDescriptor{md}; len(open) > 0; {
			d := open[0]
			open = open[1:]
			if !yield(d) {
				return
			}
			for i := range d.Fields().Len() {
				if inner := d.Fields().Get(i).Message(); inner != nil && !seen[inner.FullName()] {
					seen[inner.FullName()] = true
					open = append(open, inner)
				}
			}
		}
	}
}
