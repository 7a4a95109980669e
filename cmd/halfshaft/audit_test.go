package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// auditMasks hide numbers, hashes, times and names that are others in each run.
var auditMasks = []struct {
	what *regexp.Regexp
	with string
}{
	{regexp.MustCompile(`hsk_[0-9a-z]{8}_[0-9a-z]{52}`), "SECRET"},
	{regexp.MustCompile(`keys/[0-9a-z]{8}`), "keys/KEY"},
	{regexp.MustCompile(`\b[0-9]+ [0-9a-f]{64}\b`), "NUMBER HASH"},
	{regexp.MustCompile(`(?m)^ *[0-9]+  12:`), "NUMBER  12:"},
	{regexp.MustCompile(`(?m)^ *new  12:`), "NUMBER  12:"},
	{regexp.MustCompile(`[0-9]+ lines\b`), "N lines"},
	{regexp.MustCompile(`(?m)^[0-9]+ lines? waits? .*\n`), ""},
	{regexp.MustCompile(`12:[0-9]{2}:[0-9]{2}`), "12:MM:SS"},
	{regexp.MustCompile(`readings/[0-9a-f]{12}`), "readings/IDENTIFIER"},
}

// transcript types commands and keeps what was printed, masked.
type transcript struct {
	t      *testing.T
	data   string
	hide   *strings.Replacer
	script strings.Builder
}

// types runs a command; one with a "!" in front must fail.
func (s *transcript) types(command string, extra ...string) string {
	s.t.Helper()
	line, refused := strings.CutPrefix(command, "!")
	out, ok := halfshaft(s.t, s.data, append(words(line), extra...)...)
	if ok == refused {
		s.t.Errorf("halfshaft %s: done %v:\n%s", line, ok, out)
	}
	shown := s.hide.Replace("$ halfshaft " + line + "\n" + out + "\n")
	for _, m := range auditMasks {
		shown = m.what.ReplaceAllString(shown, m.with)
	}
	s.script.WriteString(shown)
	return out
}

// TestTheAuditReadsLikeThis lets two people work on a vehicle, one of whom may
// not do everything, and reads, proves and exports what the audit has of it.
func TestTheAuditReadsLikeThis(t *testing.T) {
	data, dir := demoData(t), t.TempDir()
	p := serve(t, data, "--date", "2026-05-18")
	defer p.stop(t)
	s := &transcript{t: t, data: data, hide: strings.NewReplacer(dir, "DIR", data, "DATA")}
	made := s.types("key create support 'front desk' --title 'telephone'")
	secret := regexp.MustCompile(`hsk_\S+`).FindString(made)
	desk := []string{"--server", "unix:" + filepath.Join(data, "run", "halfshaft.sock"), "--api-key", secret}
	s.types("record reading AM0101G '7300 mi' --on 2026-05-17", desk...)
	s.types("!key list", desk...)
	s.types("!audit list", desk...)
	s.types("person show p0001", desk...)
	s.types("standing AM0101G in-use --note 'seen at the works'")
	s.types("!record reading AM0101H '98000 mi'", desk...)
	s.types("history AM0101G", desk...)
	s.types("history people/p0001")
	s.types("!history AM0101H")
	s.types("!history people/")
	s.types("audit list --actor 'front desk'")
	s.types("audit list --object AM0101G --outcome changed")
	s.types("audit list --since 2026-05-19")
	s.types("!audit list --outcome altered")
	s.types("!audit list --since yesterday")

	export, checkpoint := filepath.Join(dir, "export.txt"), filepath.Join(dir, "checkpoint.txt")
	if err := os.WriteFile(checkpoint, []byte("# of today\n"+s.types("audit checkpoint")), 0o600); err != nil {
		t.Fatal(err)
	}
	s.types("audit verify")
	s.types("audit verify --checkpoint " + checkpoint)
	s.types("audit export " + export)
	s.types("!audit export " + export)
	s.types("audit verify --file " + export + " --checkpoint " + checkpoint)
	checkTampered(t, s, export, checkpoint)
	likeFile(t, "testdata/audit.golden", s.script.String())
}

// checkTampered changes an export and lets both the program and the script of
// the manual find it.
func checkTampered(t *testing.T, s *transcript, export, checkpoint string) {
	t.Helper()
	raw, err := os.ReadFile(export)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(strings.TrimSuffix(string(raw), "\n"), "\n")
	last := strings.SplitN(lines[len(lines)-1], " ", 3)
	script := manualScript(t)
	if out, ok := python(t, script, export, last[0]+":"+last[1]); !ok || !strings.Contains(out, "The chain is whole: "+last[0]+" lines, to "+last[1]) {
		t.Errorf("the script says of a whole export: %s", out)
	}
	for name, c := range map[string]struct {
		change     func() string
		says, mine string
	}{
		"a letter changed": {func() string { return strings.Replace(string(raw), "local operator", "local operatar", 1) }, "The chain breaks at line ", " does not follow from line "},
		"a line out":       {func() string { return strings.Join(append(append([]string{}, lines[:4]...), lines[5:]...), "") }, "The chain breaks at line 5.", "Line 5 is missing."},
		"lines exchanged":  {func() string { return strings.Replace(string(raw), lines[6]+lines[7], lines[7]+lines[6], 1) }, "The chain breaks at line 7.", "Line 7 is out of order"},
		"the end cut off":  {func() string { return strings.Join(lines[:len(lines)-1], "") }, "The checkpoint at line " + last[0] + " is not met.", "Line " + last[0] + " is missing: the checkpoint"},
	} {
		path := filepath.Join(t.TempDir(), "tampered.txt")
		if err := os.WriteFile(path, []byte(c.change()), 0o600); err != nil {
			t.Fatal(err)
		}
		if out, ok := python(t, script, path, last[0]+":"+last[1]); ok || !strings.Contains(out, c.says) {
			t.Errorf("%s: the script says %s, want %s", name, out, c.says)
		}
		if out, ok := halfshaft(t, s.data, "audit", "verify", "--file", path, "--checkpoint", checkpoint); ok || !strings.Contains(out, c.mine) {
			t.Errorf("%s: the program says %s, want %s", name, out, c.mine)
		}
	}
}

// manualScript is the script that deploy/AUDIT.md gives to auditors.
func manualScript(t *testing.T) string {
	t.Helper()
	manual, err := os.ReadFile("../../deploy/AUDIT.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, begun := strings.Cut(string(manual), "```python\n")
	script, _, ended := strings.Cut(rest, "```")
	if !begun || !ended {
		t.Fatal("deploy/AUDIT.md has no script")
	}
	path := filepath.Join(t.TempDir(), "check.py")
	if err := os.WriteFile(path, []byte(script), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// python runs a script; a machine without python is told by a skip.
func python(t *testing.T, args ...string) (string, bool) {
	t.Helper()
	if _, err := exec.LookPath("python3"); err != nil {
		t.Skip("python3 is not installed")
	}
	out, err := exec.Command("python3", args...).CombinedOutput()
	return string(out), err == nil
}
