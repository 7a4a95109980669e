package desk

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"halfshaft/services/fault"
)

// pointed ties what a refusal says of a part of a field, as in
// "bulletin.set.serials[2]", to the field of the form that holds it, with what
// was got, because the field holds more. renamed gives fields that the form calls
// otherwise.
func (f *form) pointed(err error, renamed func(name string) string) error {
	refused := *refusal(err)
	at := map[string]int{}
	var fields []fault.Field
	for _, x := range refused.Fields {
		name := x.Name
		if renamed != nil {
			name = renamed(name)
		}
		for name != "" && f.field(name) == nil {
			name = name[:max(strings.LastIndexAny(name, ".["), 0)]
		}
		want := x.Want
		if name != x.Name && x.Got != "" {
			want += " instead of “" + x.Got + "”"
		}
		if name == "" {
			name = f.within(x.Name)
		}
		if name == "" {
			name, want = x.Name, x.Name+": "+want
		}
		if n, there := at[name]; there {
			fields[n].Want += "; " + want
			continue
		}
		at[name] = len(fields)
		fields = append(fields, fault.Field{Name: name, Got: x.Got, Want: want})
	}
	refused.Fields = fields
	return &refused
}

// within is the first field of the form for a part of what is called name, where
// what is said of the whole stands best; empty where there is none.
func (f *form) within(name string) string {
	for _, x := range f.Fields {
		if x.Type != "hidden" && (strings.HasPrefix(x.Name, name+".") || strings.HasPrefix(x.Name, name+"[")) {
			return x.Name
		}
	}
	return ""
}

// againPointed shows a page with a form once more, each thing that is wrong at its
// field.
func (v *visit) againPointed(err error, f *form, renamed func(string) string, show func(status int)) {
	v.again(f.pointed(err, renamed), f, show)
}

// list reads several words, parted by commas or lines.
func (v *visit) list(name string) []string {
	var out []string
	for word := range strings.FieldsFuncSeq(v.value(name), func(r rune) bool { return r == ',' || r == '\n' || r == '\r' || r == ';' }) {
		if word = strings.TrimSpace(word); word != "" {
			out = append(out, word)
		}
	}
	return out
}

// lines reads the lines of a text.
func (v *visit) lines(name string) []string {
	var out []string
	for line := range strings.FieldsFuncSeq(v.value(name), isLineEnd) {
		if line = strings.TrimSpace(line); line != "" {
			out = append(out, line)
		}
	}
	return out
}

// ticked says whether a box is.
func (v *visit) ticked(name string) bool { return v.value(name) != "" }

// whole reads a whole number; 0 where nothing was entered.
func (t *typed) whole(name string) int32 {
	text := t.value(name)
	if text == "" {
		return 0
	}
	n, err := strconv.ParseInt(text, 10, 32)
	if err != nil {
		t.wrong = append(t.wrong, fault.Field{Name: name, Got: text, Want: "a whole number"})
	}
	return int32(n)
}

// hyphened is how positions are written: "front axle differential" is
// "front-axle-differential".
func hyphened(text string) string {
	return strings.ToLower(strings.Join(strings.Fields(text), "-"))
}

func hyphenedAll(all []string) []string {
	out := make([]string, len(all))
	for i, x := range all {
		out[i] = hyphened(x)
	}
	return out
}

// texts are facts that are said; the others are left out.
func said(facts ...fact) []fact {
	return slices.DeleteFunc(facts, func(f fact) bool { return f.Value == "" })
}

// yes says something only where it is so.
func yes(is bool, text string) string {
	if is {
		return text
	}
	return ""
}

// signature says who answers for something.
func signature(sample bool, by string) string {
	if by != "" {
		return by
	}
	return cmp.Or(yes(sample, "nobody: a sample, to be signed by the works' engineer"), "nobody")
}

// engineer says whether who is signed in may change what the works lays down.
func (v *visit) engineer() bool {
	return v.signed != nil && slices.Contains(engineerRoles, v.signed.Account.GetRole())
}

// worksForm prints a page with a form of the works.
func (v *visit) worksForm(status int, title string, f *form, back link, before ...block) {
	v.render(status, view{Title: title, Note: v.note(), Blocks: append(before, block{Form: f, Links: []link{back, allOfWorks}})})
}

// allOfWorks leads to the overview.
var allOfWorks = link{Label: "Everything about the works", Path: "/works"}

// worksPage prints a page of the works, with the way back.
func (v *visit) worksPage(status int, title string, blocks ...block) {
	blocks = append(blocks, block{Links: []link{allOfWorks}})
	v.render(status, view{Title: title, Wide: true, Note: v.note(), Blocks: blocks})
}

// worksShow is worksPage for what was asked for.
func (v *visit) worksShow(title string, blocks ...block) {
	v.worksPage(http.StatusOK, title, blocks...)
}
