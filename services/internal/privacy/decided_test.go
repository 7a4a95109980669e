package privacy_test

import (
	"bufio"
	"flag"
	"os"
	"regexp"
	"strings"
	"testing"

	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	_ "halfshaft/proto/halfshaft/access/v1"
	_ "halfshaft/proto/halfshaft/build/v1"
	_ "halfshaft/proto/halfshaft/bulletin/v1"
	_ "halfshaft/proto/halfshaft/enquiry/v1"
	_ "halfshaft/proto/halfshaft/handbook/v1"
	_ "halfshaft/proto/halfshaft/jobsheet/v1"
	_ "halfshaft/proto/halfshaft/owner/v1"
	_ "halfshaft/proto/halfshaft/parts/v1"
	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
	_ "halfshaft/proto/halfshaft/reminder/v1"
	_ "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/internal/privacy"
)

var update = flag.Bool("update", false, "write the golden files anew")

// notPersonal names every field of text or bytes that is decided to be not
// personal, below the reason why.
const notPersonal = "testdata/not-personal.txt"

// plumbing are fields whose meaning is fixed by the conventions of the API.
var plumbing = regexp.MustCompile(`\.(request_id|etag|page_token|next_page_token|import_id)$`)

// Every field that can hold text is decided: it says at the field what is
// personal about it, or it stands in the list with the reason why nothing is.
// There is no guessing by names: a field that nobody thought of fails.
func TestEveryFieldOfTextIsDecidedToBePersonalOrNot(t *testing.T) {
	because := readNotPersonal(t)
	var left []string
	privacy.EachField(protoregistry.GlobalFiles, func(fd protoreflect.FieldDescriptor) {
		path := privacy.Entry{Field: fd}.Path()
		if fd.Kind() != protoreflect.StringKind && fd.Kind() != protoreflect.BytesKind && !fd.IsMap() ||
			plumbing.MatchString(path) || strings.HasPrefix(path, "privacy.v1.Personal.") {
			return
		}
		reason, listed := because[path]
		delete(because, path)
		switch personal := privacy.Of(fd) != nil; {
		case personal && listed:
			t.Errorf("%s is personal and stands in %s", path, notPersonal)
		case !personal && !listed:
			left = append(left, path)
		case listed && reason == "":
			t.Errorf("%s stands in %s without a reason", path, notPersonal)
		}
	})
	for path := range because {
		t.Errorf("%s names %s, which is no field of text any more", notPersonal, path)
	}
	if len(left) > 0 {
		t.Errorf("undecided: say (halfshaft.privacy.v1.personal) at the field, or name it in %s below a reason:\n%s",
			notPersonal, strings.Join(left, "\n"))
	}
}

// readNotPersonal reads the list: reasons begin with "# because", fields stand
// below.
func readNotPersonal(t *testing.T) map[string]string {
	t.Helper()
	f, err := os.Open(notPersonal)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	out, reason := map[string]string{}, ""
	for lines := bufio.NewScanner(f); lines.Scan(); {
		switch line := strings.TrimSpace(lines.Text()); {
		case line == "":
		case strings.HasPrefix(line, "#"):
			reason, _ = strings.CutPrefix(line, "# because ")
		default:
			if out[line] != "" {
				t.Errorf("%s stands twice in %s", line, notPersonal)
			}
			out[line] = reason
		}
	}
	return out
}

func TestWhatIsSaidOfAPersonalFieldIsWhole(t *testing.T) {
	entries := privacy.Inventory(protoregistry.GlobalFiles)
	if len(entries) < 100 {
		t.Errorf("only %d personal fields were found", len(entries))
	}
	for _, e := range entries {
		p := e.Personal
		if p.GetCategory() == privacyv1.Category_CATEGORY_UNSPECIFIED || p.GetKeep() == privacyv1.Keep_KEEP_UNSPECIFIED {
			t.Errorf("%s: category %v, keep %v", e.Path(), p.GetCategory(), p.GetKeep())
		}
		if p.GetWhy() == "" || strings.HasSuffix(p.GetWhy(), ".") {
			t.Errorf("%s: why %q, want a purpose: \"to address letters\"", e.Path(), p.GetWhy())
		}
		if privacy.KeepRules()[p.GetKeep()] == "" {
			t.Errorf("%s: the rule %v has no sentence", e.Path(), p.GetKeep())
		}
	}
}

// Where somebody lives and how they are reached is never for a dealer, nor is
// who had a vehicle, but for the plate that stands on it. What a workshop
// publishes of itself is for everybody who looks for one.
func TestNoAddressIsSaidToBeForDealers(t *testing.T) {
	for _, e := range privacy.Inventory(protoregistry.GlobalFiles) {
		if !e.Personal.GetDealer() {
			continue
		}
		switch path := e.Path(); e.Personal.GetCategory() {
		case privacyv1.Category_CATEGORY_STAFF, privacyv1.Category_CATEGORY_STATEMENT:
			if strings.HasPrefix(path, "owner.") || strings.HasPrefix(path, "reminder.") {
				t.Errorf("%s is said to be for dealers", path)
			}
		case privacyv1.Category_CATEGORY_SECRET: // a dealer's own
			if !strings.HasPrefix(path, "access.") {
				t.Errorf("%s is said to be for dealers", path)
			}
		case privacyv1.Category_CATEGORY_RELATION:
			if !strings.HasSuffix(path, ".plate") {
				t.Errorf("%s is said to be for dealers", path)
			}
		default:
			if !strings.HasPrefix(path, "access.v1.OrganisationContact.") {
				t.Errorf("%s is said to be for dealers", path)
			}
		}
	}
}

// What a line of the audit repeats as its reason must not be personal.
func TestNoRuleTakesItsReasonFromAPersonalField(t *testing.T) {
	for method, rule := range access.Table() {
		if rule.Because == "" {
			continue
		}
		service, name, _ := strings.Cut(strings.TrimPrefix(method, "/"), "/")
		d, err := protoregistry.GlobalFiles.FindDescriptorByName(protoreflect.FullName(service))
		if err != nil {
			t.Errorf("%s: %v", method, err)
			continue
		}
		md := d.(protoreflect.ServiceDescriptor).Methods().ByName(protoreflect.Name(name)).Input()
		for step := range strings.SplitSeq(rule.Because, ".") {
			fd := md.Fields().ByName(protoreflect.Name(step))
			if fd == nil {
				t.Errorf("%s: there is no %s", method, rule.Because)
				break
			}
			if privacy.Of(fd) != nil {
				t.Errorf("%s: the audit would repeat %s, which is personal", method, rule.Because)
			}
			md = fd.Message()
		}
	}
}
