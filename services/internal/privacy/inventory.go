package privacy

import (
	"slices"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
)

// Entry is one personal field of the inventory.
type Entry struct {
	Field    protoreflect.FieldDescriptor
	Personal *privacyv1.Personal
}

// Path names the field as people look for it: "owner.v1.Person.email".
func (e Entry) Path() string { return strings.TrimPrefix(string(e.Field.FullName()), ours) }

// ours is what all our protos' names begin with.
const ours = "halfshaft."

// Inventory gives every personal field of our protos that this program knows,
// by category and then by path.
func Inventory(files *protoregistry.Files) []Entry {
	var out []Entry
	EachField(files, func(fd protoreflect.FieldDescriptor) {
		if said := Of(fd); said != nil {
			out = append(out, Entry{fd, said})
		}
	})
	slices.SortFunc(out, func(a, b Entry) int {
		if a.Personal.GetCategory() != b.Personal.GetCategory() {
			return int(a.Personal.GetCategory() - b.Personal.GetCategory())
		}
		return strings.Compare(a.Path(), b.Path())
	})
	return out
}

// EachField calls do for each field of each message of our protos.
func EachField(files *protoregistry.Files, do func(protoreflect.FieldDescriptor)) {
	var walk func(protoreflect.MessageDescriptors)
	walk = func(list protoreflect.MessageDescriptors) {
		for i := range list.Len() {
			md := list.Get(i)
			if md.IsMapEntry() {
				continue
			}
			for j := range md.Fields().Len() {
				do(md.Fields().Get(j))
			}
			walk(md.Messages())
		}
	}
	files.RangeFiles(func(file protoreflect.FileDescriptor) bool {
		if strings.HasPrefix(string(file.Package()), ours) {
			walk(file.Messages())
		}
		return true
	})
}

// KeepRules says each rule that ends a field's life, in a sentence.
func KeepRules() map[privacyv1.Keep]string {
	return map[privacyv1.Keep]string{
		privacyv1.Keep_KEEP_PASSING:       "Held while a question or an answer is under way; stored nowhere.",
		privacyv1.Keep_KEEP_WITH_PERSON:   "Sealed under the person's own key, until they are erased: because they ask, or by the retention pass once three years have gone by since their last tie to a vehicle ended.",
		privacyv1.Keep_KEEP_WITH_NOTICE:   "Two years after the message was sent, silenced or given up; then its bytes, the address it went to and what came back of it go. That it was told stays, as a bare identifier, so that nobody is told twice.",
		privacyv1.Keep_KEEP_WITH_VEHICLE:  "With the vehicle's technical record, for its life: a bare identifier of a person, a trade name, or what was written about the vehicle. Once somebody is erased, their identifier leads to nobody.",
		privacyv1.Keep_KEEP_WITH_ACCESS:   "With the account, key, session or organisation, and a year after it ended.",
		privacyv1.Keep_KEEP_WITH_AUDIT:    "Two years for what was read or refused, ten for changes (AUDIT.md).",
		privacyv1.Keep_KEEP_WITH_TASK:     "With the task, and a year after it was done.",
		privacyv1.Keep_KEEP_WITH_DOCUMENT: "Sealed under the person's key, for two years after the photograph came, or until the person is erased.",
	}
}
