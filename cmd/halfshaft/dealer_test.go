package main

import (
	"cmp"
	"context"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/google/uuid"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// dealer is somebody at a workshop with a key, far from the works.
type dealer struct {
	t       *testing.T
	address string
	key     string
}

// halfshaft runs a command as the dealer would: over TCP, with their key.
func (d dealer) halfshaft(args ...string) (output string, ok bool) {
	d.t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	cmd := exec.CommandContext(ctx, program, append(args, "--server", d.address, "--api-key", d.key)...)
	cmd.Env = append(os.Environ(), "HALFSHAFT_DATA=", "HALFSHAFT_SERVER=", "HALFSHAFT_KEY=")
	out, err := cmd.CombinedOutput()
	return string(out), err == nil
}

// dealing makes an organisation with a key, and lets it see a vehicle.
func dealing(t *testing.T, s *works.Session, serial string) (key string, a *accessv1.Assignment) {
	t.Helper()
	ctx := s.Context(t.Context())
	_, err := s.Access.CreateOrganisation(ctx, &accessv1.CreateOrganisationRequest{
		Organisation: &accessv1.Organisation{Name: "organisations/ferncombe", Title: "Ferncombe Garage"}, RequestId: uuid.NewString()})
	if err != nil {
		t.Fatal(err)
	}
	made, err := s.Access.CreateKey(ctx, &accessv1.CreateKeyRequest{RequestId: uuid.NewString(), Key: &accessv1.Key{
		Title: "workshop tablet", Role: accessv1.Role_ROLE_DEALER, Bearer: "tom", Organisation: "organisations/ferncombe"}})
	if err != nil {
		t.Fatal(err)
	}
	a, err = s.Access.CreateAssignment(ctx, &accessv1.CreateAssignmentRequest{Parent: "vehicles/" + serial, RequestId: uuid.NewString(), Assignment: &accessv1.Assignment{
		Organisation: "organisations/ferncombe", Ground: accessv1.AssignmentGround_ASSIGNMENT_GROUND_WORKS, Purpose: "24-month service"}})
	if err != nil {
		t.Fatal(err)
	}
	return made.GetSecret(), a
}

// theirWorld is a running demo with its data directory, and a dealer to whom a
// vehicle is assigned.
func theirWorld(t *testing.T, serial string) (d dealer, a *accessv1.Assignment, data string) {
	t.Helper()
	data = demoData(t)
	p := serve(t, data, "--date", aldermoor.Today.String())
	t.Cleanup(func() { p.stop(t) })
	key, a := dealing(t, p.session(t), serial)
	return dealer{t, p.address(t), key}, a, data
}

// TestADealerDoesAVisitAndThenSeesNothing goes the whole way of a workshop: what
// is assigned, what is due with what it takes, what was found and measured, and
// that the work is complete.
func TestADealerDoesAVisitAndThenSeesNothing(t *testing.T) {
	const serial = "AM0135X" // its rear hubs and its transfer case have values on record
	d, a, data := theirWorld(t, serial)
	steps := []struct {
		args string
		says []string // what the answer must say
		not  []string
	}{
		{"whoami", []string{"dealer of ferncombe"}, nil},
		{"assignments list -", []string{serial, "24-month service"}, []string{"AM0147P"}},
		{"assignments list " + serial, []string{"ferncombe"}, nil},
		{"vehicle " + serial, []string{serial, "frame number", "axle ratio"}, []string{"@", "Harrowgate"}},
		{"vehicle " + serial + " --as-built", []string{serial}, nil},
		{"schedule " + serial, []string{"E01", "is due"}, []string{"laid up", "put away"}},
		{"--json schedule " + serial, []string{"lastMeasured", "withinLimits", "lower"}, []string{"readingRequest"}},
		{"visits " + serial, []string{"visits from"}, []string{"laid up", "rests from"}},
		{"part " + serial + " oil filter", []string{"AP-101", "torque"}, nil},
		{"fluids " + serial, []string{"never mix", "CAUTION"}, nil},
		{"settings " + serial + " output-shaft-bearing", []string{"mm"}, nil},
		{"speed " + serial, []string{"speedometer"}, nil},
		{"components " + serial, []string{"components"}, nil},
		{"measured " + serial, []string{"end float", "window"}, nil},
		{"judge " + serial + " output-shaft-bearing 0.30mm", []string{"0.30 mm"}, nil},
		{"shims " + serial + " output-shaft-bearing 0.30mm", []string{"shim"}, nil},
		{"readings " + serial, []string{"counted"}, nil},
		{"record reading " + serial + " 41000", []string{serial}, nil},
		{"record service " + serial + " --item E01 --item T02=end-float:0.12mm --part ap1011 --part AP-99999 --done-by Tom", []string{"AP-99999 is not in the catalogue", "0.12 mm"}, []string{"ap1011 is not"}},
		{"record event " + serial + " wading", []string{serial}, nil},
		{"measured " + serial + " output-shaft-bearing", []string{"0.12 mm"}, nil},
	}
	for _, step := range steps {
		out, ok := d.halfshaft(strings.Fields(step.args)...)
		if !ok {
			t.Errorf("%s is refused:\n%s", step.args, out)
			continue
		}
		for _, word := range step.says {
			if !strings.Contains(out, word) {
				t.Errorf("%s does not say %q:\n%s", step.args, word, out)
			}
		}
		for _, word := range step.not {
			if strings.Contains(out, word) {
				t.Errorf("%s says %q:\n%s", step.args, word, out)
			}
		}
	}

	// Nobody who did only what they may stands in the audit as turned away.
	if out, ok := halfshaft(t, data, "audit", "list", "--actor", "tom", "--outcome", "refused"); !ok || strings.TrimSpace(out) != "There is no such line." {
		t.Errorf("refused on the way: %v\n%s", ok, out)
	}

	// What is for the works, or of people, is refused; what is not assigned is not
	// there.
	for _, args := range []string{"people " + serial, "due", "find Harrowgate", "notices " + serial, "search filter", "where-used --part AP-1010", "pending", "tasks",
		"record change " + serial + " plate NEW1", "key list", "audit list", "export " + t.TempDir() + "/out", "answers " + serial} {
		if out, ok := d.halfshaft(strings.Fields(args)...); ok || !strings.Contains(out, "may not") {
			t.Errorf("%s: %v\n%s", args, ok, out)
		}
	}
	gone := func(serial string) {
		t.Helper()
		first := ""
		for _, args := range []string{"vehicle", "schedule", "visits", "part %s filter", "fluids", "measured", "readings", "record reading %s 41000",
			"record service %s --item E01", "record event %s wading"} {
			if !strings.Contains(args, "%s") {
				args += " %s"
			}
			out, ok := d.halfshaft(strings.Fields(strings.ReplaceAll(args, "%s", serial))...)
			first = cmp.Or(first, out)
			if ok || out != first || !strings.Contains(out, "There is no vehicle "+serial) {
				t.Errorf("%s of %s: %v\n%s", args, serial, ok, out)
			}
		}
	}
	gone("AM0147P")
	if out, ok := d.halfshaft("assignments", "end", a.GetName(), "--complete", "--reason", "back with its owner"); !ok {
		t.Fatalf("the end: %s", out)
	}
	gone(serial)
	if out, ok := d.halfshaft("assignments", "list", "-", "--open"); !ok || strings.Contains(out, serial) {
		t.Errorf("assignments: %v\n%s", ok, out)
	}
}
