package exchange

import (
	"regexp"
	"strconv"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	"halfshaft/services/fault"
)

// described is how services say of a personal value only how long it is.
var described = regexp.MustCompile(`^[\d,]+ characters?$`)

// Own gives what was got at a path of a draft where the service that refused it
// does not repeat it, because it is personal: the file is the operator's own and
// so is the terminal, and a cell is found by what stands in it.
func (c *Collection) Own(d *Draft, path, got string) string {
	if !strings.HasPrefix(got, fault.NotRepeated) && !described.MatchString(got) {
		return got
	}
	m := c.Message(d).ProtoReflect()
	steps := strings.Split(path, ".")
	for i, step := range steps {
		name, index, listed := strings.Cut(strings.TrimSuffix(step, "]"), "[")
		fd := m.Descriptor().Fields().ByName(protoreflect.Name(name))
		if fd == nil || !m.Has(fd) {
			return got
		}
		value := m.Get(fd)
		if fd.IsList() != listed || fd.IsMap() {
			return got
		}
		if listed {
			at, err := strconv.Atoi(index)
			if err != nil || at < 0 || at >= value.List().Len() {
				return got
			}
			value = value.List().Get(at)
		}
		switch last := i == len(steps)-1; {
		case last && fd.Kind() == protoreflect.StringKind:
			return value.String()
		case last || fd.Message() == nil:
			return got
		}
		m = value.Message()
	}
	return got
}
