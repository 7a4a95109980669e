package deploy_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// command is the line of a unit that starts the program.
var command = regexp.MustCompile(`(?m)^ExecStart=(\S+)(.*)$`)

func TestTheUnitsAreWhatSystemdExpects(t *testing.T) {
	analyze, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Skip("systemd-analyze is missing (Debian's package systemd)")
	}
	for _, unit := range []string{"halfshaft.service", "cluster/etcd.service"} {
		// The programs are not installed here, so another stands in for them.
		text := command.ReplaceAllString(readUnit(t, unit), "ExecStart=/bin/true$2")
		copied := filepath.Join(t.TempDir(), filepath.Base(unit))
		if err := os.WriteFile(copied, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(analyze, "verify", "--man=no", copied).CombinedOutput()
		if err != nil || len(out) > 0 {
			t.Errorf("%s: %v\n%s", unit, err, out)
		}
	}
}

// What systemd counts as open to a service: 0 is nothing, 100 everything. What
// is left is the network and the files that it is there for.
func TestTheServiceIsClosedIn(t *testing.T) {
	analyze, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Skip("systemd-analyze is missing (Debian's package systemd)")
	}
	out, err := exec.Command(analyze, "security", "--offline=true", "--no-pager", "--threshold=15", "halfshaft.service").CombinedOutput()
	if err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}

func TestHalfshaftKnowsTheFlagsThatItsUnitGives(t *testing.T) {
	program := filepath.Join(t.TempDir(), "halfshaft")
	if out, err := exec.Command("go", "build", "-o", program, "halfshaft/cmd/halfshaft").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	found := command.FindStringSubmatch(readUnit(t, "halfshaft.service"))
	if found == nil {
		t.Fatal("the unit starts nothing")
	}
	words := strings.Fields(found[2])
	help, err := exec.Command(program, words[0], "--help").CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, help)
	}
	for _, word := range words[1:] {
		flag, _, _ := strings.Cut(word, "=")
		if strings.HasPrefix(flag, "--") && !regexp.MustCompile(regexp.QuoteMeta(flag)+`\b`).Match(help) {
			t.Errorf("the unit says %s, which `halfshaft %s` does not know:\n%s", flag, words[0], help)
		}
	}
}

func readUnit(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
