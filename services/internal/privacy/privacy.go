// Package privacy reads what the protos say about personal fields
// (proto/halfshaft/privacy/v1): what a dealer may not see of an answer, what
// an error must not repeat of a request, and the inventory of it all.
package privacy

import (
	"sync"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
)

// Of gives what the protos say is personal about a field; nil for nothing.
func Of(fd protoreflect.FieldDescriptor) *privacyv1.Personal {
	options := fd.Options()
	if options == nil || !proto.HasExtension(options, privacyv1.E_Personal) {
		return nil
	}
	p, _ := proto.GetExtension(options, privacyv1.E_Personal).(*privacyv1.Personal)
	return p
}

// plan is what is to be known of a message type: its own personal fields, and
// those of its fields below which there are some. Plans of types that hold
// nothing personal at any depth are empty.
type plan struct {
	personal map[protoreflect.FieldNumber]*privacyv1.Personal
	hidden   []protoreflect.FieldDescriptor // from dealers
	below    []protoreflect.FieldDescriptor // that lead to personal fields
	masked   []protoreflect.FieldDescriptor // of those, the ones that lead to hidden fields
}

// plans holds the plan of each message type that was met, by descriptor: what
// the protos say does not change while a process runs.
var plans sync.Map

func planOf(md protoreflect.MessageDescriptor) *plan {
	if p, ok := plans.Load(md); ok {
		return p.(*plan)
	}
	p := &plan{personal: map[protoreflect.FieldNumber]*privacyv1.Personal{}}
	for i := range md.Fields().Len() {
		fd := md.Fields().Get(i)
		if said := Of(fd); said != nil {
			p.personal[fd.Number()] = said
			if !said.GetDealer() {
				p.hidden = append(p.hidden, fd)
				continue
			}
		}
		inner := messageOf(fd)
		if inner == nil {
			continue
		}
		if reaches(inner, func(*privacyv1.Personal) bool { return true }) {
			p.below = append(p.below, fd)
		}
		if reaches(inner, func(said *privacyv1.Personal) bool { return !said.GetDealer() }) {
			p.masked = append(p.masked, fd)
		}
	}
	plans.Store(md, p)
	return p
}

// messageOf gives the type of the messages that a field holds: singly, in a
// list or as a map's values; nil where it holds none.
func messageOf(fd protoreflect.FieldDescriptor) protoreflect.MessageDescriptor {
	if fd.IsMap() {
		return fd.MapValue().Message()
	}
	return fd.Message()
}

// holdsPersonal reports whether a message type holds something personal at any
// depth.
func holdsPersonal(md protoreflect.MessageDescriptor) bool {
	p := planOf(md)
	return len(p.personal)+len(p.below) > 0
}

// reaches reports whether a personal field that which accepts stands in a
// message type or anywhere below it. Types may hold themselves.
func reaches(md protoreflect.MessageDescriptor, which func(*privacyv1.Personal) bool) bool {
	seen := map[protoreflect.FullName]bool{md.FullName(): true}
	for open := []protoreflect.MessageDescriptor{md}; len(open) > 0; {
		md, open = open[0], open[1:]
		for i := range md.Fields().Len() {
			fd := md.Fields().Get(i)
			if said := Of(fd); said != nil && which(said) {
				return true
			}
			if inner := messageOf(fd); inner != nil && !seen[inner.FullName()] {
				seen[inner.FullName()] = true
				open = append(open, inner)
			}
		}
	}
	return false
}
