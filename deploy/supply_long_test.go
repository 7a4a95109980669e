//go:build long

package deploy_test

import (
	"crypto/sha256"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// The tools of these tests come from `make supply`, which `make long` runs.

// record is a fault as the vulnerability database has it (OSV schema 1.3.1).
func record(id, module, introduced string, imports ...map[string]any) map[string]any {
	return map[string]any{
		"schema_version": "1.3.1", "id": id, "modified": "2026-01-01T00:00:00Z", "published": "2026-01-01T00:00:00Z",
		"summary": "A fault made up for a test", "details": "None.",
		"affected": []any{map[string]any{
			"package":            map[string]any{"name": module, "ecosystem": "Go"},
			"ranges":             []any{map[string]any{"type": "SEMVER", "events": []any{map[string]any{"introduced": introduced}}}},
			"ecosystem_specific": map[string]any{"imports": imports},
		}},
	}
}

func imported(path string, symbols ...string) map[string]any {
	return map[string]any{"path": path, "symbols": symbols}
}

// TestLongTheRecipeFindsAFaultThatIsThere gives the recipe a database of four
// records: a fault that our code reaches, one of a function that it does not
// call, one of later versions, and one of a module that we do not have.
func TestLongTheRecipeFindsAFaultThatIsThere(t *testing.T) {
	reached := record("GO-0000-0001", "stdlib", "0", imported("net/http", "Server.Serve"))
	for name, c := range map[string]struct {
		records []map[string]any
		found   bool
	}{
		"one that is reached": {[]map[string]any{
			reached,
			record("GO-0000-0002", "stdlib", "0", imported("net/http/cookiejar", "New")),
			record("GO-0000-0003", "stdlib", "1.900.0", imported("net/http", "Server.Serve")),
			record("GO-0000-0004", "halfshaft.example/absent", "0", imported("halfshaft.example/absent", "Do")),
		}, true},
		"none that is reached": {[]map[string]any{
			record("GO-0000-0002", "stdlib", "0", imported("net/http/cookiejar", "New")),
			record("GO-0000-0003", "stdlib", "1.900.0", imported("net/http", "Server.Serve")),
			record("GO-0000-0004", "halfshaft.example/absent", "0", imported("halfshaft.example/absent", "Do")),
		}, false},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			for _, r := range c.records {
				text, err := json.Marshal(r)
				if err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(filepath.Join(dir, r["id"].(string)+".json"), text, 0o600); err != nil {
					t.Fatal(err)
				}
			}
			recipe := exec.Command("../.ci/vuln", "./services/internal/httpserver")
			recipe.Env = append(os.Environ(), "VULNDB_DIR="+dir, "VULN_TOOLCHAIN=local")
			out, err := recipe.CombinedOutput()
			if (err != nil) != c.found || strings.Contains(string(out), "GO-0000-0001") != c.found {
				t.Errorf("%v\n%s", err, out)
			}
			for _, other := range []string{"GO-0000-0002", "GO-0000-0003", "GO-0000-0004"} {
				if strings.Contains(string(out), other) {
					t.Errorf("it finds %s, which is not reached:\n%s", other, out)
				}
			}
		})
	}
}

// TestLongNothingKnownIsWrongWithARelease asks the pinned database about the
// program, with the standard library that releases are built with.
func TestLongNothingKnownIsWrongWithARelease(t *testing.T) {
	out, err := exec.Command("../.ci/vuln").CombinedOutput()
	t.Logf("%s", out)
	if strings.Contains(string(out), "neither the module proxy nor the module cache") {
		t.Skip("the database cannot be had here")
	}
	if strings.Contains(string(out), "cannot be had here; looking at the Go that is here") {
		t.Skip("the Go that releases are built with cannot be had here; SUPPLY-CHAIN.md says what is known of this one")
	}
	if err != nil {
		t.Errorf("%v: mend it, or explain it in SUPPLY-CHAIN.md", err)
	}
}

func TestLongTheListOfComponentsIsThatOfTheProgram(t *testing.T) {
	file := filepath.Join(t.TempDir(), "halfshaft.cdx.json")
	if out, err := exec.Command("../.ci/sbom", file).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	// A list with a component too many, one too few, and one of another version
	// is refused.
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	program := filepath.Join(t.TempDir(), "halfshaft")
	build := exec.Command("go", "build", "-o", program, "halfshaft/cmd/halfshaft")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for name, change := range map[string]func([]any) []any{
		"one too few": func(c []any) []any { return c[1:] },
		"one too many": func(c []any) []any {
			return append(c, map[string]any{"name": "halfshaft.example/absent", "version": "v1.0.0"})
		},
		"of another version": func(c []any) []any { c[0].(map[string]any)["version"] = "v0.0.1"; return c },
		"without a licence":  func(c []any) []any { delete(c[0].(map[string]any), "evidence"); return c },
	} {
		t.Run(name, func(t *testing.T) {
			var list map[string]any
			if err := json.Unmarshal(text, &list); err != nil {
				t.Fatal(err)
			}
			list["components"] = change(list["components"].([]any))
			changed, err := json.Marshal(list)
			if err != nil {
				t.Fatal(err)
			}
			wrong := filepath.Join(t.TempDir(), "wrong.json")
			if err := os.WriteFile(wrong, changed, 0o600); err != nil {
				t.Fatal(err)
			}
			if out, err := exec.Command("../.ci/bin/checksbom", wrong, program).CombinedOutput(); err == nil {
				t.Errorf("it is good:\n%s", out)
			}
		})
	}
}

// The same commit, built twice in different directories with nothing kept from
// the first time, gives the same bytes.
func TestLongTheSameCommitGivesTheSameBytes(t *testing.T) {
	var sums [2][sha256.Size]byte
	for i := range sums {
		file := filepath.Join(t.TempDir(), "halfshaft")
		build := exec.Command("../.ci/binary", file)
		build.Env = append(os.Environ(), "GOCACHE="+t.TempDir(), "BINARY_TOOLCHAIN=local")
		if out, err := build.CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		bytes, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		sums[i] = sha256.Sum256(bytes)
		if out, err := exec.Command(file, "version").CombinedOutput(); err != nil || !strings.Contains(string(out), "-trimpath") {
			t.Errorf("%v\n%s", err, out)
		}
	}
	if sums[0] != sums[1] {
		t.Errorf("%x and %x", sums[0], sums[1])
	}
}
