// Package locale says things in a reader's language, and writes dates,
// distances and numbers in a reader's habit.
//
// Phrases stand in files, <language>.yaml, whose names are BCP 47 tags. A file
// is a flat mapping of keys; a phrase is a template (text/template), or one
// for each plural form of the language:
//
//	notice.reply: "Write to {{.mail}}."
//	notice.more: {one: "{{.n}} more", other: "{{.n}} more"}
//
// English is always there, and each language says all that English says with
// the same placeholders.
package locale

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"
	"golang.org/x/text/language"
)

// basics are what Locale itself says.
//
//go:embed words
var basics embed.FS

// Catalogue has the phrases of all languages. It is safe for concurrent use.
type Catalogue struct {
	tables  []*table // English first, then by tag
	matcher language.Matcher
	nearest *memo[Phrases] // by the tag that was asked for
}

// table has the phrases of one language.
type table struct {
	tag     language.Tag
	name    string // the tag as text
	phrases map[string]phrase
	habits  *memo[habit] // by the tag of the formats
}

func newTable(tag language.Tag) *table {
	return &table{tag, tag.String(), map[string]phrase{}, newMemo(func(formats string) habit { return habitOf(tag, formats) })}
}

// BuiltIn gives the phrases in a directory of files that are built in, once
// they are asked for. A fault in them is a defect, which every test that says
// anything meets: it panics.
func BuiltIn(files fs.FS, dir string) func() *Catalogue {
	return sync.OnceValue(func() *Catalogue {
		own, err := fs.Sub(files, dir)
		if err != nil {
			panic(err)
		}
		catalogue, err := Load(own, nil)
		if err != nil {
			panic(err)
		}
		return catalogue
	})
}

// Load reads the phrases that are built in and those that a works lays over
// them, which may be nil. A file of over for a language that is built in holds
// the phrases that differ; one for another language must be complete. Errors
// are all that is wrong with the files: a file that is no YAML, a key that
// nothing asks for, one that is missing, a placeholder that nothing fills.
func Load(builtIn, over fs.FS) (*Catalogue, error) {
	base, err := fs.Sub(basics, "words")
	if err != nil {
		return nil, err
	}
	all := map[string]map[string]source{}
	known := func(string) bool { return true }
	for n, layer := range []fs.FS{base, builtIn, over} {
		if layer == nil {
			continue
		}
		if n == 2 {
			english := maps.Clone(all["en"])
			known = func(key string) bool { _, ok := english[key]; return ok }
		}
		if err := read(layer, all, known); err != nil {
			return nil, err
		}
	}
	swiss(all)
	return compile(all)
}

// source is a phrase as a file has it: one text, or one for each plural form.
type source struct {
	file string
	one  string
	by   map[string]string
}

// read takes in the phrase files of a layer; later ones take the place of
// earlier ones.
func read(layer fs.FS, all map[string]map[string]source, known func(string) bool) error {
	files, err := fs.Glob(layer, "*.yaml")
	if err != nil {
		return err
	}
	var faults []error
	for _, file := range files {
		stem := strings.TrimSuffix(path.Base(file), ".yaml")
		if strings.Contains(stem, ".") { // programme.de.yaml and its like
			continue
		}
		tag, err := language.Parse(stem)
		if err != nil {
			faults = append(faults, fmt.Errorf("%s: the name is %q, want a language tag", file, stem))
			continue
		}
		text, err := fs.ReadFile(layer, file)
		if err != nil {
			return err
		}
		var entries map[string]yaml.Node
		if err := yaml.Unmarshal(text, &entries); err != nil {
			faults = append(faults, fmt.Errorf("%s: %w", file, err))
			continue
		}
		if all[tag.String()] == nil {
			all[tag.String()] = map[string]source{}
		}
		for _, key := range slices.Sorted(maps.Keys(entries)) {
			node := entries[key]
			s, err := sourceOf(file, &node)
			switch {
			case err != nil:
				faults = append(faults, fmt.Errorf("%s: %s: %w", file, key, err))
			case !known(key):
				faults = append(faults, fmt.Errorf("%s: %s: nothing asks for this phrase", file, key))
			default:
				all[tag.String()][key] = s
			}
		}
	}
	return errors.Join(faults...)
}

func sourceOf(file string, node *yaml.Node) (source, error) {
	s := source{file: file}
	if node.Kind == yaml.ScalarNode {
		s.one = strings.TrimSpace(node.Value)
		return s, nil
	}
	if err := node.Decode(&s.by); err != nil || s.by["other"] == "" {
		return s, errors.New("want a text, or one for each plural form with 'other' among them")
	}
	for form := range s.by {
		if !slices.Contains(forms, form) {
			return s, fmt.Errorf("got the plural form %q, want one of %s", form, strings.Join(forms, ", "))
		}
	}
	return s, nil
}

// swiss adds the German of Switzerland, where ß is not written, unless a file
// has it.
func swiss(all map[string]map[string]source) {
	if all["de"] == nil || all["de-CH"] != nil {
		return
	}
	own := map[string]source{}
	for key, s := range all["de"] {
		s.one = Spell("de-CH", s.one)
		s.by = maps.Clone(s.by)
		for form, text := range s.by {
			s.by[form] = Spell("de-CH", text)
		}
		own[key] = s
	}
	all["de-CH"] = own
}

// compile parses all phrases and holds each language to English.
func compile(all map[string]map[string]source) (*Catalogue, error) {
	english := all["en"]
	if english == nil {
		return nil, errors.New("en.yaml: there is no English")
	}
	c := &Catalogue{}
	var faults []error
	tags := slices.Sorted(maps.Keys(all))
	slices.SortStableFunc(tags, func(a, b string) int { return rank(a) - rank(b) })
	placeholders := map[string][]string{}
	var matched []language.Tag
	for _, tag := range tags {
		t := newTable(language.MustParse(tag))
		for _, key := range slices.Sorted(maps.Keys(all[tag])) {
			s := all[tag][key]
			p, err := parseSource(key, s)
			if err != nil {
				faults = append(faults, fmt.Errorf("%s: %s: %w", s.file, key, err))
				continue
			}
			if tag == "en" {
				placeholders[key] = p.placeholders
			} else if _, asked := english[key]; !asked {
				faults = append(faults, fmt.Errorf("%s: %s: nothing asks for this phrase", s.file, key))
				continue
			}
			for _, name := range p.placeholders {
				if !slices.Contains(placeholders[key], name) {
					faults = append(faults, fmt.Errorf("%s: %s: got the placeholder %q, want one of %q", s.file, key, name, placeholders[key]))
				}
			}
			t.phrases[key] = p
		}
		for _, key := range slices.Sorted(maps.Keys(english)) {
			if _, ok := all[tag][key]; !ok {
				faults = append(faults, fmt.Errorf("%s.yaml: %s: the phrase is missing", tag, key))
			}
		}
		c.tables, matched = append(c.tables, t), append(matched, t.tag)
	}
	c.matcher, c.nearest = language.NewMatcher(matched), newMemo(c.match)
	return c, errors.Join(faults...)
}

// rank puts English first: readers whose language is not known get it.
func rank(tag string) int {
	if tag == "en" {
		return 0
	}
	return 1
}

// For gives the phrases of the language that comes nearest to a BCP 47 tag;
// English for one that is unknown or none.
func (c *Catalogue) For(tag string) Phrases { return c.nearest.get(tag) }

func (c *Catalogue) match(tag string) Phrases {
	wanted, err := language.Parse(tag)
	if err != nil {
		return Phrases{c.tables[0], c.tables[0]}
	}
	_, i, confidence := c.matcher.Match(wanted)
	if confidence == language.No {
		i = 0
	}
	return Phrases{c.tables[i], c.tables[0]}
}

// Languages are the tags of all languages, English first.
func (c *Catalogue) Languages() []string {
	var tags []string
	for _, t := range c.tables {
		tags = append(tags, t.name)
	}
	return tags
}

// Spell writes a text as a tag's readers do: the German of Switzerland has no
// ß.
func Spell(tag, text string) string {
	if tag == "de-CH" {
		return strings.ReplaceAll(text, "ß", "ss")
	}
	return text
}
