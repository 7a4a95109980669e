package exchangefile

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/prototext"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/exchange"
)

const release = `name: R3
title: Third release
effective_date: 2019-01-01
fitments:
  - position: gearbox
    part: AP-1001
    quantity: 1
driveline:
  axle_ratio: "4.70"
`

func TestADocumentIsReadByTheNamesOfItsFields(t *testing.T) {
	c, faults := read(t, "r3.yaml", []byte(release))
	d := c.Draft("releases/R3")
	if len(faults) > 0 || d == nil {
		t.Fatal(faults)
	}
	got := c.Message(d).(*buildv1.Release)
	if got.GetDriveline().GetAxleRatio() != "4.70" || got.GetFitments()[0].GetPart() != "AP-1001" || got.GetEffectiveDate().GetYear() != 2019 {
		t.Errorf("got %v", got)
	}
}

func TestSeveralDocumentsMayStandInAFile(t *testing.T) {
	c, faults := read(t, "releases.yaml", []byte(release+"---\n"+strings.Replace(release, "R3", "R4", 1)))
	if len(faults) > 0 || c.Draft("releases/R3") == nil || c.Draft("releases/R4") == nil {
		t.Errorf("got %v", faults)
	}
}

func TestADocumentThatIsWrongIsRefusedAtItsLine(t *testing.T) {
	for _, c := range []struct{ name, content, want string }{
		{"an unknown key", release + "colour: green\n", ", 10, colour: colour, one of the keys: name, title"},
		{"an unknown key within", strings.Replace(release, "quantity", "amount", 1), ", 7, fitments[0].amount: amount, one of the keys: position, part"},
		{"a key twice", release + "title: again\n", "each key once"},
		{"a day that two can read", strings.Replace(release, "2019-01-01", "03/04/2020", 1), ", 3, effective_date: 03/04/2020, 2020-04-03 or 2020-03-04"},
		{"a list for a text", strings.Replace(release, "Third release", "[a]", 1), ", 2, title: , a single value"},
		{"a text for a list", strings.Replace(release, "driveline:\n  axle_ratio: \"4.70\"", "options: winch", 1), ", 8, options: winch, a list"},
		{"an alias", "name: &n R3\ntitle: *n\nfitments: []\n", "an anchor or alias"},
		{"a merge", "name: R3\nfitments: []\ndriveline:\n  <<: {axle_ratio: 4.70}\n", "one of the keys"},
		{"a document of no kind", "hello: world\n", "releases/R3, programmes/packhorse/versions/1"},
		{"a bare word", "hello\n", "a document of keys and values"},
		{"no YAML", "a: b: c\n\t- x", "a YAML document"},
		{"a name that is none", strings.Replace(release, "name: R3", "name: releases/../R3", 1), ", 1, name: releases/../R3"},
		{"a control character", strings.Replace(release, "Third release", `"a\u0001b"`, 1), ", 2, title: a\x01b, text without control characters"},
		{"junk", "\x00\x01\x02\xff\xfe", "a YAML document"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, faults := read(t, "r3.yaml", []byte(c.content))
			only(t, faults, c.want)
		})
	}
}

func TestHostileYAMLIsRefusedInLittleMemory(t *testing.T) {
	laughs := "a: &a [x,x,x,x,x,x,x,x,x]\n"
	for i := range 20 {
		name, before := string(rune('b'+i)), string(rune('a'+i))
		laughs += name + ": &" + name + " [" + strings.Repeat("*"+before+",", 9) + "]\n"
	}
	for _, c := range []struct{ name, content, want string }{
		{"aliases that stand for gigabytes", "name: R3\n" + laughs, "an anchor or alias"},
		{"a thousand levels", "name: R3\nfitments: " + strings.Repeat("[", 1000) + strings.Repeat("]", 1000) + "\n", "at most 32 levels"},
		{"a hundred thousand levels", "name: R3\nfitments: " + strings.Repeat("[", 100_000) + "\n", "a YAML document"},
		{"a hundred thousand levels of keys", "name: R3\nfitments: " + strings.Repeat("{a: ", 100_000) + "\n", "a YAML document"},
		{"a million values", "name: R3\nfitments: [" + strings.Repeat("0,", 1_000_000) + "0]\n", "more than 200000 values"},
		{"a large file", "name: R3\nnotes: " + strings.Repeat("a", MaxYAMLBytes) + "\n", "at most 8 MiB"},
	} {
		t.Run(c.name, func(t *testing.T) {
			underMemory(t, 1024, func() {
				_, faults := read(t, "r3.yaml", []byte(c.content))
				only(t, faults, c.want)
			})
		})
	}
}

func TestEveryTextComesBackFromADocument(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(
			rapid.StringN(0, 60, 300).Filter(holdsInXML),
			rapid.SampledFrom([]string{"yes", "null", "~", "0.10", "1e3", "2020-04-03", " a", "a ", "a\nb", "a\n", "\na", "- a", "a: b", "#", "'", "\"", "|", ">", "a\n\n  b \n", "=1", "<<", "\t", "! x", "&a", "*a", "0x1F", "1_000", "12:30:45"}),
		)
		want := &buildv1.Release{Name: "releases/R3", Title: text.Draw(t, "title"), Notes: text.Draw(t, "notes"),
			Driveline: &buildv1.Driveline{Gears: rapid.SliceOfN(text, 1, 4).Draw(t, "gears")}}
		path := filepath.Join(dir, "r3.yaml")
		if err := writeYAML(path, exchange.TreeOf(want.ProtoReflect())); err != nil {
			t.Fatal(err)
		}
		raw, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		c := exchange.NewCollection()
		if err := yamlDocuments(raw, "r3.yaml", c); err != nil || c.Faults.Len() > 0 {
			t.Fatalf("%v %v\n%s", err, c.Faults.Sorted(), raw)
		}
		d := c.Draft("releases/R3")
		if d == nil {
			t.Fatalf("no release came of\n%s", raw)
		}
		if got := c.Message(d); !proto.Equal(got, want) {
			t.Errorf("wrote %s\nread %s\nfile %s", prototext.Format(want), prototext.Format(got), raw)
		}
	})
}

func FuzzYAML(f *testing.F) {
	f.Add([]byte(release))
	f.Add([]byte("name: programmes/packhorse/versions/1\nitems:\n  - item_id: T02\n    every: {distance: 3000 mi, months: 12}\n    lay_up: before\n"))
	f.Add([]byte("name: builds/AM0147P/amendments/a\nbefore: {}\n--- \n? [a]\n: b\n"))
	f.Fuzz(func(t *testing.T, content []byte) {
		if len(content) > MaxYAMLBytes {
			return
		}
		c := exchange.NewCollection()
		if err := yamlDocuments(content, "x.yaml", c); err != nil {
			asFault(t, err)
		}
		for _, kind := range exchange.Documents() {
			for _, d := range c.Drafts(&kind.Table) {
				var b bytes.Buffer
				b.WriteString(prototext.Format(c.Message(d)))
			}
		}
	})
}
