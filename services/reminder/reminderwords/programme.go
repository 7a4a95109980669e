package reminderwords

import (
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strings"

	"go.yaml.in/yaml/v3"
	"golang.org/x/text/language"

	"halfshaft/services/internal/locale"
)

// programme has what the works' own records say in English, in other
// languages: by language tag and English text. The text is the key, and not an
// item's number, so that a caution that was changed is never followed by the
// translation of the one before.
type programme map[string]map[string]string

// readProgramme reads every programme.<language>.yaml, a flat mapping of
// English texts.
func readProgramme(over fs.FS) (programme, error) {
	p := programme{}
	if over == nil {
		return p, nil
	}
	files, err := fs.Glob(over, "programme.*.yaml")
	if err != nil {
		return nil, err
	}
	var faults []error
	for _, file := range files {
		stem := strings.TrimSuffix(strings.TrimPrefix(path.Base(file), "programme."), ".yaml")
		tag, err := language.Parse(stem)
		if err != nil {
			faults = append(faults, fmt.Errorf("%s: got the language %q, want a language tag", file, stem))
			continue
		}
		text, err := fs.ReadFile(over, file)
		if err != nil {
			return nil, err
		}
		var entries map[string]string
		if err := yaml.Unmarshal(text, &entries); err != nil {
			faults = append(faults, fmt.Errorf("%s: %w", file, err))
			continue
		}
		own := map[string]string{}
		for english, other := range entries {
			if other = OneLine(other); other == "" {
				faults = append(faults, fmt.Errorf("%s: %q: got no text, want its translation", file, english))
			}
			own[OneLine(english)] = other
		}
		p[tag.String()] = own
	}
	return p, errors.Join(faults...)
}

// in gives an English text in a language, in the very tag or in the language it
// belongs to; source is the tag of the file that has it.
func (p programme) in(tag, english string) (text, source string, ok bool) {
	base, _, _ := strings.Cut(tag, "-")
	for _, t := range []string{tag, base} {
		if text, ok := p[t][english]; ok {
			return locale.Spell(tag, text), t, true
		}
	}
	return "", "", false
}
