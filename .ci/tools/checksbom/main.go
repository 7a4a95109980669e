// Command checksbom holds a CycloneDX list of components against the program it
// is of: each module of the program is in it, by the same version, and nothing
// else; and each has a licence that may be used.
package main

import (
	"debug/buildinfo"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
)

// good are the licences under which a component may be a part of the program.
var good = []string{"Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "ISC", "MIT", "MPL-2.0", "Unlicense", "Zlib"}

// read are the licences of modules whose files the tool does not know again; who
// adds one has read it.
var read = map[string]string{
	"github.com/cenkalti/backoff/v5": "MIT",
	"go.etcd.io/bbolt":               "MIT",
}

type list struct {
	Format     string      `json:"bomFormat"`
	Version    string      `json:"specVersion"`
	Components []component `json:"components"`
}

type component struct {
	Name     string     `json:"name"`
	Version  string     `json:"version"`
	Licenses []licensed `json:"licenses"`
	Evidence struct {
		Licenses []licensed `json:"licenses"`
	} `json:"evidence"`
	Hashes []json.RawMessage `json:"hashes"`
}

type licensed struct {
	License struct {
		ID string `json:"id"`
	} `json:"license"`
}

func main() {
	if len(os.Args) != 3 {
		fmt.Fprintln(os.Stderr, "checksbom LIST PROGRAM")
		os.Exit(2)
	}
	n, err := check(os.Args[1], os.Args[2])
	if err != nil {
		fmt.Fprintln(os.Stderr, "sbom:", err)
		os.Exit(1)
	}
	fmt.Printf("sbom: %d components, those of the program, each with a licence\n", n)
}

func check(file, program string) (int, error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return 0, err
	}
	var l list
	if err := json.Unmarshal(text, &l); err != nil {
		return 0, err
	}
	info, err := buildinfo.ReadFile(program)
	if err != nil {
		return 0, err
	}
	want := map[string]string{"std": info.GoVersion}
	for _, m := range info.Deps {
		if m.Replace != nil {
			m = m.Replace
		}
		want[m.Path] = m.Version
	}
	errs := []error{}
	if l.Format != "CycloneDX" || l.Version == "" {
		errs = append(errs, fmt.Errorf("%s is no CycloneDX", file))
	}
	seen := map[string]bool{}
	for _, c := range l.Components {
		seen[c.Name] = true
		if bare(c.Version) != bare(want[c.Name]) {
			errs = append(errs, fmt.Errorf("%s is listed as %s, and the program has %q", c.Name, c.Version, want[c.Name]))
		}
		if c.Name == "std" {
			continue // of Go itself, BSD-3-Clause
		}
		if len(c.Hashes) == 0 {
			errs = append(errs, fmt.Errorf("%s has no hash", c.Name))
		}
		errs = append(errs, c.licence()...)
	}
	for name := range want {
		if !seen[name] {
			errs = append(errs, fmt.Errorf("the program has %s, which is not listed", name))
		}
	}
	return len(l.Components), errors.Join(errs...)
}

// bare is a version as Go and the list both write it, of modules and of Go.
func bare(version string) string {
	return strings.TrimPrefix(strings.TrimPrefix(version, "go"), "v")
}

func (c component) licence() (errs []error) {
	all := append(c.Licenses, c.Evidence.Licenses...)
	if id := read[c.Name]; len(all) == 0 && id != "" {
		return nil
	}
	if len(all) == 0 {
		return []error{fmt.Errorf("%s has no licence that is known", c.Name)}
	}
	for _, l := range all {
		if !slices.Contains(good, l.License.ID) {
			errs = append(errs, fmt.Errorf("%s has the licence %q, which nobody has said to be good", c.Name, l.License.ID))
		}
	}
	return errs
}
