package main

import (
	"regexp"
	"strings"
	"testing"
)

// masks hide what is another in each run: what is drawn at random, and the
// minute of a clock that goes on from noon.
var masks = []struct {
	what *regexp.Regexp
	with string
}{
	{secrets, "SECRET"},
	{regexp.MustCompile(`keys/[0-9a-z]{8}\b`), "keys/IDENTIFIER"},
	{regexp.MustCompile(`in place of [0-9a-z]{8}\b`), "in place of IDENTIFIER"},
	{regexp.MustCompile(`calendar/\S+\.ics`), "calendar/SECRET.ics"},
	{regexp.MustCompile(`/preview/l/\S+`), "/preview/l/LINK"},
	{regexp.MustCompile(`\b[0-9A-Z]{4}-[0-9A-Z]{4}-[0-9A-Z]{4}\b`), "CODE"},
	{regexp.MustCompile(`(?m)(^|[ /.])[0-9a-f]{12}\b`), "${1}IDENTIFIER"}, // a telephone number has a + in front
	{regexp.MustCompile(`\b[0-9a-f]{16}\b`), "KEY"},
	{regexp.MustCompile(`12:[0-9]{2} UTC`), "12:MM UTC"},
}

// desk is a transcript of commands, as somebody at the desk types them.
type desk struct {
	t      *testing.T
	data   string
	hide   []string // pairs for strings.NewReplacer: directories of the test
	last   map[string]string
	script strings.Builder
}

// named are the resource names that a later command may take up: {transfers}
// is the last transfer that was printed.
var taken = regexp.MustCompile(`(?:vehicles/[A-Z0-9]+/)?(transfers|answers|tasks|notices|assignments|keys)/[A-Za-z0-9.-]*[A-Za-z0-9]`)

// secrets are those of keys: {secret} is the last that was printed.
var secrets = regexp.MustCompile(`hsk_[0-9a-z]{8}_[0-9a-z]{52}`)

// types runs commands; those with a "!" in front must be refused, and say why
// without their usage.
func (d *desk) types(commands ...string) {
	d.t.Helper()
	for _, command := range commands {
		line, refused := strings.CutPrefix(command, "!")
		args := words(line)
		for i := range args {
			args[i] = fill(args[i], d.last)
		}
		out, ok := halfshaft(d.t, d.data, args...)
		if ok == refused {
			d.t.Errorf("halfshaft %s: done %v:\n%s", line, ok, out)
		}
		for _, m := range taken.FindAllStringSubmatch(out, -1) {
			d.last[m[1]] = m[0]
		}
		if secret := secrets.FindString(out); secret != "" {
			d.last["secret"] = secret
		}
		if strings.HasPrefix(line, "preview") {
			out = beginning(out)
		}
		out = strings.NewReplacer(d.hide...).Replace(out)
		for _, m := range masks {
			out = m.what.ReplaceAllString(out, m.with)
		}
		d.script.WriteString("$ halfshaft " + strings.NewReplacer(d.hide...).Replace(line) + "\n" + out + "\n")
	}
}

// fill puts the names that were printed last in the place of their kinds.
func fill(text string, last map[string]string) string {
	for kind, name := range last {
		text = strings.ReplaceAll(text, "{"+kind+"}", name)
	}
	return text
}

// beginning is a message up to its first heading: what follows is the business
// of those who write the words.
func beginning(out string) string {
	if head, _, more := strings.Cut(out, "\n== "); more {
		return head + "…\n"
	}
	return out
}

// words parts a command at its spaces outside quotes.
func words(line string) []string {
	var out []string
	for i, part := range strings.Split(line, `'`) {
		if i%2 == 1 {
			out = append(out, part)
		} else {
			out = append(out, strings.Fields(part)...)
		}
	}
	return out
}

func newDesk(t *testing.T, data string, hide ...string) *desk {
	return &desk{t: t, data: data, hide: hide, last: map[string]string{}}
}
