package aldermoor_test

import (
	"fmt"
	"slices"
	"strings"
)

// expected is one cell of the column "expected", taken apart.
type expected struct {
	kind       string // "answered", "asked back", "refused", "in error", "fluid", "setting"
	rule, code string
	fragments  []string // of the question back, the refusal or the error
	items      []string
	more       bool // others may be offered beside the items
	clauses    [][2]string
}

func parseExpected(cell string) (*expected, error) {
	clauses := strings.Split(cell, "; ")
	e := &expected{kind: "answered"}
	items := strings.Split(clauses[0], " | ")
	switch word, rest, _ := strings.Cut(items[0], " "); word {
	case "ask:":
		e.kind, e.fragments, items = "asked back", strings.Split(rest, " + "), items[1:]
	case "refuse", "error":
		name, fragment, ok := strings.Cut(rest, ": ")
		if !ok {
			return nil, fmt.Errorf("%q: after the rule a colon and what is said are wanted", items[0])
		}
		e.fragments, items = []string{fragment}, items[1:]
		if e.kind, e.rule = "refused", name; word == "error" {
			e.kind, e.rule, e.code = "in error", "", name
		}
	case "fluid", "setting":
		e.kind = word
	}
	for _, item := range items {
		if item == "..." {
			e.more = true
			continue
		}
		e.items = append(e.items, item)
	}
	for _, c := range clauses[1:] {
		word, rest, _ := strings.Cut(c, " ")
		if !slices.Contains([]string{"renew", "also", "holds", "fitted", "caution", "says", "not"}, word) || rest == "" {
			return nil, fmt.Errorf("%q: a clause begins with renew, also, holds, fitted, caution, says or not", c)
		}
		e.clauses = append(e.clauses, [2]string{word, rest})
	}
	return e, nil
}

// compare says what is wrong with an answer; "" when nothing is.
func (e *expected) compare(h *heard) string {
	if h.rule != e.rule || h.code != e.code {
		return fmt.Sprintf("refused by %q %q, want %q %q", h.rule, h.code, e.rule, e.code)
	}
	if e.kind != "refused" && (h.askBack != "") != (e.kind == "asked back") { // beside a refusal it may be asked which of the parts that do fit
		return fmt.Sprintf("asked back: %q", h.askBack)
	}
	said := strings.Join(h.sentences, " ")
	if e.kind == "asked back" {
		said = h.askBack
	}
	for _, f := range e.fragments {
		if !strings.Contains(strings.ToLower(said), strings.ToLower(f)) {
			return fmt.Sprintf("%q is not said", f)
		}
	}
	for _, want := range e.items {
		if !slices.Contains(h.items, want) {
			return fmt.Sprintf("%q is not offered", want)
		}
	}
	if e.more && len(h.items) == 0 && e.kind != "asked back" || !e.more && len(h.items) != len(e.items) {
		return fmt.Sprintf("%d are offered, want %d", len(h.items), len(e.items))
	}
	return e.compareClauses(h)
}

// compareClauses looks at what goes with the answer: only at what the clauses
// name.
func (e *expected) compareClauses(h *heard) string {
	for _, c := range e.clauses {
		word, want := c[0], c[1]
		var ok bool
		switch word {
		case "renew":
			ok = slices.Contains(h.renew, want)
		case "also":
			ok = slices.Contains(h.also, want)
		case "holds":
			ok = slices.Contains(h.holds, want)
		case "fitted":
			ok = slices.Contains(h.fitted, want)
		case "caution":
			ok = strings.Contains(strings.Join(h.cautions, " "), want)
		case "says":
			ok = strings.Contains(strings.Join(h.sentences, " "), want)
		case "not":
			ok = !slices.ContainsFunc(h.items, func(item string) bool { return strings.HasPrefix(item, want+" ") })
		}
		if !ok {
			return fmt.Sprintf("not so: %s %s", word, want)
		}
	}
	return ""
}
