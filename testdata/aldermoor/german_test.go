package aldermoor_test

import (
	"encoding/csv"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"halfshaft/testdata/aldermoor"
)

// The bulletins and their parts, as far as letters say them, are in the works'
// own German: whoever reads German reads no English in a letter about what can
// hurt.
func TestWhatBulletinsSayIsInGermanToo(t *testing.T) {
	text, err := fs.ReadFile(aldermoor.Words(), "programme.de.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var german map[string]string
	if err := yaml.Unmarshal(text, &german); err != nil {
		t.Fatal(err)
	}
	titles := partTitles(t)
	files, err := filepath.Glob("bulletins/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	for _, file := range files {
		for _, said := range saidBy(t, file, titles) {
			if said = strings.Join(strings.Fields(said), " "); said != "" && german[said] == "" {
				t.Errorf("%s says %q, of which there is no German", file, said)
			}
		}
	}
}

// saidBy gives the texts of a bulletin that stand in its letters.
func saidBy(t *testing.T, file string, titles map[string]string) []string {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var b struct {
		Title, Fault, Consequence, Meanwhile, Caution string
		Remedy                                        []struct {
			Title, Caution string
			Parts          []struct{ Part, Position string }
		}
	}
	if err := yaml.Unmarshal(text, &b); err != nil {
		t.Fatal(err)
	}
	out := []string{b.Title, b.Fault, b.Consequence, b.Meanwhile, b.Caution}
	for _, r := range b.Remedy {
		out = append(out, r.Title, r.Caution)
		for _, p := range r.Parts {
			if titles[p.Part] == "" {
				t.Errorf("%s: there is no part %s", file, p.Part)
			}
			out = append(out, titles[p.Part], p.Position)
		}
	}
	return out
}

func partTitles(t *testing.T) map[string]string {
	t.Helper()
	f, err := aldermoor.Files.Open("parts.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, r := range rows {
		out[r[0]] = r[1]
	}
	return out
}
