package audit

import "strings"

// Root gives the object that the history of another belongs to: its first two
// segments. What a vehicle was built as and what became of it is one history.
func Root(object string) string {
	kind, rest, _ := strings.Cut(object, "/")
	id, _, _ := strings.Cut(rest, "/")
	if kind == "builds" {
		kind = "vehicles"
	}
	return kind + "/" + id
}

// Roots gives the roots of a line's objects, each once, in their order.
func (l Line) Roots() []string {
	var roots []string
	seen := map[string]bool{}
	for _, o := range l.Objects {
		if r := Root(o); !seen[r] {
			seen[r] = true
			roots = append(roots, r)
		}
	}
	return roots
}

// IsAbout reports whether a line names the object or something below it. A
// vehicle's build record is below the vehicle.
func (l Line) IsAbout(object string) bool {
	for _, o := range l.Objects {
		if within(o, object) {
			return true
		}
		if serial, is := strings.CutPrefix(o, "builds/"); is && within("vehicles/"+serial, object) {
			return true
		}
	}
	return false
}

// within reports whether name is the object or below it.
func within(name, object string) bool {
	rest, found := strings.CutPrefix(name, object)
	return found && (rest == "" || rest[0] == '/')
}
