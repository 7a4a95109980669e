// Package proto_test holds the rules of our interface that buf's lint has no
// check for. They are AIP rules (resource-oriented design) and our own; that
// everything carries a comment is left to the lint's COMMENTS category, because
// generated Go keeps no comments.
package proto_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protodesc"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/descriptorpb"

	_ "halfshaft/proto/halfshaft/access/v1"
	_ "halfshaft/proto/halfshaft/build/v1"
	_ "halfshaft/proto/halfshaft/enquiry/v1"
	_ "halfshaft/proto/halfshaft/owner/v1"
	_ "halfshaft/proto/halfshaft/parts/v1"
	_ "halfshaft/proto/halfshaft/reminder/v1"
	_ "halfshaft/proto/halfshaft/schedule/v1"
	_ "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/access"
)

// readVerbs begin the names of methods that change nothing that is kept; every
// other method is held to the rules for changes. Seal and Open only encrypt and
// decrypt for their caller.
var readVerbs = []string{"Answer", "Check", "Download", "Find", "Get", "Judge", "List", "Open", "Preview", "Print", "Read", "Seal", "Search", "Select", "Suggest", "Watch", "WhoAmI"}

// repeatable methods need no request id, unversioned ones no etag.
var (
	repeatable = []protoreflect.FullName{
		// A pass selects its work from what is recorded: once more does no more.
		"halfshaft.reminder.v1.ReminderService.RunPass",
		"halfshaft.bulletin.v1.BulletinService.RefreshSets", // the same however often
		// When a key was last used never goes back.
		"halfshaft.access.v1.AccessService.NoteKeyUses",
		// What came back is known by itself: the message, the gateway's event.
		"halfshaft.reminder.v1.ReminderService.TakeReturn",
		"halfshaft.reminder.v1.ReminderService.TakeTextEvent",
		// What is gone is gone.
		"halfshaft.owner.v1.OwnerService.DeleteContactChange",
		// A code, a ceremony, an invitation counts once; a session that is over is
		// over. Their answers hold secrets, which nobody keeps to repeat them.
		"halfshaft.access.v1.SignInService.SignIn",
		"halfshaft.access.v1.SignInService.BeginPasskeySignIn",
		"halfshaft.access.v1.SignInService.FinishPasskeySignIn",
		"halfshaft.access.v1.SignInService.BeginOpenIdSignIn",
		"halfshaft.access.v1.SignInService.FinishOpenIdSignIn",
		"halfshaft.access.v1.SignInService.BeginPasskey",
		"halfshaft.access.v1.SignInService.FinishPasskey",
		"halfshaft.access.v1.SignInService.BeginPassword",
		"halfshaft.access.v1.SignInService.FinishPassword",
		"halfshaft.access.v1.SignInService.ChangePassword",
		"halfshaft.access.v1.SignInService.CreateRecoveryCodes",
		"halfshaft.access.v1.SignInService.RemoveSignInWay",
		"halfshaft.access.v1.SignInService.SignOut",
		"halfshaft.access.v1.SignInService.EndSession",
		"halfshaft.access.v1.SignInService.EndSessions",
	}
	unversioned = []protoreflect.FullName{
		// An opt-out is there or it is not; nothing of it changes meanwhile.
		"halfshaft.reminder.v1.ReminderService.EndOptOut",
		"halfshaft.reminder.v1.ReminderService.EndCalendarFeed",
		// It is held against the address itself, which is what may have changed.
		"halfshaft.owner.v1.OwnerService.MarkUndeliverable",
		// An address was told or it was not.
		"halfshaft.owner.v1.OwnerService.DeleteContactChange",
		// A session is there or it is over.
		"halfshaft.access.v1.SignInService.EndSession",
	}
)

// The gate tells by its own list what changes nothing: what a key with a
// reading scope may call, and what leaves no line of a change in the audit.
func TestTheGateKnowsTheSameReadingVerbs(t *testing.T) {
	if got := access.ReadingVerbs(); !slices.Equal(got, readVerbs) {
		t.Errorf("services/access has %v, these rules %v", got, readVerbs)
	}
	protoregistry.GlobalFiles.RangeFiles(func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			for j := range file.Services().Get(i).Methods().Len() {
				m := file.Services().Get(i).Methods().Get(j)
				full := fmt.Sprintf("/%s/%s", m.Parent().FullName(), m.Name())
				if ours := strings.HasPrefix(full, "/halfshaft."); ours && access.Changes(full) == begins(m, readVerbs...) {
					t.Errorf("%s changes something: %v at the gate", full, access.Changes(full))
				}
			}
		}
		return true
	})
}

func TestEveryServiceKeepsToTheRules(t *testing.T) {
	files, methods := 0, 0
	protoregistry.GlobalFiles.RangeFiles(func(file protoreflect.FileDescriptor) bool {
		if !strings.HasPrefix(string(file.Package()), "halfshaft.") {
			return true
		}
		files++
		for i := range file.Services().Len() {
			methods += file.Services().Get(i).Methods().Len()
		}
		for _, fault := range faults(file) {
			t.Error(fault)
		}
		return true
	})
	// At least one service and method for each package that has a service.
	if files < 13 || methods < 6 {
		t.Errorf("saw %d files and %d methods: the imports above no longer register them", files, methods)
	}
}

// faults gives what is wrong with a file, one sentence each.
func faults(file protoreflect.FileDescriptor) []string {
	var out []string
	for i := range file.Services().Len() {
		methods := file.Services().Get(i).Methods()
		for j := range methods.Len() {
			out = append(out, methodFaults(methods.Get(j))...)
		}
	}
	return append(out, messageFaults(file.Messages())...)
}

// methodFaults checks pages (AIP-158), etags (AIP-154) and request ids
// (AIP-155).
func methodFaults(method protoreflect.MethodDescriptor) []string {
	var out []string
	fault := func(format string, args ...any) {
		out = append(out, string(method.FullName())+": "+fmt.Sprintf(format, args...))
	}
	in, result := method.Input(), method.Output()
	lacks := func(message protoreflect.MessageDescriptor, field protoreflect.Name, kind protoreflect.Kind) {
		if f := message.Fields().ByName(field); f == nil || f.Kind() != kind {
			fault("%s has no %s %s", message.Name(), kind, field)
		}
	}

	if begins(method, "List") {
		lacks(in, "page_size", protoreflect.Int32Kind)
		lacks(in, "page_token", protoreflect.StringKind)
		lacks(result, "next_page_token", protoreflect.StringKind)
	}
	if watch := begins(method, "Watch"); watch != method.IsStreamingServer() || method.IsStreamingClient() {
		fault("a watch, and nothing else, streams answers")
	}
	if begins(method, readVerbs...) {
		return out
	}

	// A chunk of an import has an identity of its own: the import, which is
	// named after its content, and the chunk's number.
	if in.Fields().ByName("import_id") == nil && !slices.Contains(repeatable, method.FullName()) {
		lacks(in, "request_id", protoreflect.StringKind)
	}
	if changesRecord(method) && !carriesEtag(in) && !slices.Contains(unversioned, method.FullName()) {
		fault("%s changes a record and says no etag it was based on", in.Name())
	}
	return out
}

// changesRecord reports whether the method changes a record that was there
// before: its request names one, or its verb says so.
func changesRecord(method protoreflect.MethodDescriptor) bool {
	return method.Input().Fields().ByName("name") != nil || begins(method, "Amend", "Update")
}

// carriesEtag reports whether a request has an etag, or holds a resource that
// has one.
func carriesEtag(request protoreflect.MessageDescriptor) bool {
	if request.Fields().ByName("etag") != nil {
		return true
	}
	for i := range request.Fields().Len() {
		m := request.Fields().Get(i).Message()
		if m != nil && resource(m) != nil && m.Fields().ByName("etag") != nil {
			return true
		}
	}
	return false
}

// messageFaults checks resources (AIP-122, 123) and the names of dates and
// times (AIP-142), in nested messages too.
func messageFaults(messages protoreflect.MessageDescriptors) []string {
	var out []string
	for i := range messages.Len() {
		message := messages.Get(i)
		if message.IsMapEntry() {
			continue
		}
		if r := resource(message); r != nil {
			out = append(out, resourceFaults(message, r)...)
		}
		for j := range message.Fields().Len() {
			out = append(out, fieldFaults(message.Fields().Get(j))...)
		}
		out = append(out, messageFaults(message.Messages())...)
	}
	return out
}

func resourceFaults(message protoreflect.MessageDescriptor, r *annotations.ResourceDescriptor) []string {
	var out []string
	if f := message.Fields().ByName("name"); f == nil || f.Kind() != protoreflect.StringKind {
		out = append(out, fmt.Sprintf("%s: a resource has no string name", message.FullName()))
	}
	if want := "halfshaft/" + string(message.Name()); r.GetType() != want {
		out = append(out, fmt.Sprintf("%s: resource type %q, want %q", message.FullName(), r.GetType(), want))
	}
	if len(r.GetPattern()) == 0 {
		out = append(out, fmt.Sprintf("%s: a resource without a pattern of its name", message.FullName()))
	}
	return out
}

func fieldFaults(field protoreflect.FieldDescriptor) []string {
	if field.Message() == nil {
		return nil
	}
	suffix := map[protoreflect.FullName]string{
		"google.type.Date":          "_date",
		"google.protobuf.Timestamp": "_time",
	}[field.Message().FullName()]
	if suffix != "" && field.IsList() {
		suffix += "s"
	}
	if !strings.HasSuffix(string(field.Name()), suffix) {
		return []string{fmt.Sprintf("%s: a %s ends in %q", field.FullName(), field.Message().FullName(), suffix)}
	}
	return nil
}

// resource gives the annotation of a resource message, nil for another.
func resource(message protoreflect.MessageDescriptor) *annotations.ResourceDescriptor {
	r, _ := proto.GetExtension(message.Options(), annotations.E_Resource).(*annotations.ResourceDescriptor)
	return r
}

// begins reports whether the method's name starts with one of the verbs, as a
// whole word: GetBuild with Get, Getaway not.
func begins(method protoreflect.MethodDescriptor, verbs ...string) bool {
	return slices.ContainsFunc(verbs, func(verb string) bool {
		rest, ok := strings.CutPrefix(string(method.Name()), verb)
		return ok && (rest == "" || rest[0] >= 'A' && rest[0] <= 'Z')
	})
}

func TestWhatIsExemptIsStillThere(t *testing.T) {
	for _, name := range slices.Concat(repeatable, unversioned) {
		if _, err := protoregistry.GlobalFiles.FindDescriptorByName(name); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestABrokenServiceIsTakenToTask(t *testing.T) {
	// Invented for this test: each line of `want` is one rule broken in it.
	const broken = `
		name: "broken.proto" package: "halfshaft.broken.v1" syntax: "proto3"
		dependency: "google/type/date.proto"
		dependency: "google/protobuf/timestamp.proto"
		dependency: "google/api/resource.proto"
		message_type { name: "Lamp"
			field { name: "made" number: 1 label: LABEL_OPTIONAL type: TYPE_MESSAGE type_name: ".google.type.Date" }
			field { name: "lit_at" number: 2 label: LABEL_OPTIONAL type: TYPE_MESSAGE type_name: ".google.protobuf.Timestamp" }
			field { name: "clean_date" number: 3 label: LABEL_REPEATED type: TYPE_MESSAGE type_name: ".google.type.Date" }
			options { [google.api.resource] { type: "halfshaft/Light" } } }
		message_type { name: "ListLampsRequest"
			field { name: "page_size" number: 1 label: LABEL_OPTIONAL type: TYPE_STRING } }
		message_type { name: "ListLampsResponse" }
		message_type { name: "LightLampRequest"
			field { name: "name" number: 1 label: LABEL_OPTIONAL type: TYPE_STRING } }
		message_type { name: "UpdateLampRequest"
			field { name: "lamp" number: 1 label: LABEL_OPTIONAL type: TYPE_MESSAGE type_name: ".halfshaft.broken.v1.Lamp" }
			field { name: "request_id" number: 2 label: LABEL_OPTIONAL type: TYPE_STRING } }
		service { name: "LampService"
			method { name: "ListLamps" input_type: ".halfshaft.broken.v1.ListLampsRequest" output_type: ".halfshaft.broken.v1.ListLampsResponse" }
			method { name: "LightLamp" input_type: ".halfshaft.broken.v1.LightLampRequest" output_type: ".halfshaft.broken.v1.Lamp" }
			method { name: "UpdateLamp" input_type: ".halfshaft.broken.v1.UpdateLampRequest" output_type: ".halfshaft.broken.v1.Lamp" server_streaming: true } }`
	want := []string{
		"halfshaft.broken.v1.LampService.ListLamps: ListLampsRequest has no int32 page_size",
		"halfshaft.broken.v1.LampService.ListLamps: ListLampsRequest has no string page_token",
		"halfshaft.broken.v1.LampService.ListLamps: ListLampsResponse has no string next_page_token",
		"halfshaft.broken.v1.LampService.LightLamp: LightLampRequest has no string request_id",
		"halfshaft.broken.v1.LampService.LightLamp: LightLampRequest changes a record and says no etag it was based on",
		"halfshaft.broken.v1.LampService.UpdateLamp: a watch, and nothing else, streams answers",
		"halfshaft.broken.v1.LampService.UpdateLamp: UpdateLampRequest changes a record and says no etag it was based on",
		"halfshaft.broken.v1.Lamp: a resource has no string name",
		`halfshaft.broken.v1.Lamp: resource type "halfshaft/Light", want "halfshaft/Lamp"`,
		"halfshaft.broken.v1.Lamp: a resource without a pattern of its name",
		`halfshaft.broken.v1.Lamp.made: a google.type.Date ends in "_date"`,
		`halfshaft.broken.v1.Lamp.lit_at: a google.protobuf.Timestamp ends in "_time"`,
		`halfshaft.broken.v1.Lamp.clean_date: a google.type.Date ends in "_dates"`,
	}

	var text descriptorpb.FileDescriptorProto
	if err := prototext.Unmarshal([]byte(broken), &text); err != nil {
		t.Fatal(err)
	}
	file, err := protodesc.NewFile(&text, protoregistry.GlobalFiles)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, faults(file)); diff != "" {
		t.Errorf("faults (-want +got):\n%s", diff)
	}
}
