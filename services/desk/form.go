package desk

import (
	"cmp"
	"slices"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/internal/webguard"
)

// toChoose stands in a list before anything is chosen, where nothing is no choice.
const toChoose = "choose"

// wrong ties a refusal to the fields it is about. What is about none of them
// stands above the form.
func (f *form) wrong(err error) *fault.Error {
	refused := refusal(err)
	rest := *refused
	rest.Fields = nil
	if refused.Kind == fault.Aborted && f.outdated() {
		f.overtaken()
		return refused
	}
	for _, x := range refused.Fields {
		if at := f.field(x.Name); at != nil && at.Type != "hidden" {
			at.Error = at.wanted(x.Want)
		} else {
			rest.Fields = append(rest.Fields, x)
		}
	}
	if rest.Message != "" || len(rest.Fields) > 0 || refused.Kind == fault.Internal {
		f.Error = sentence(&rest)
	}
	return refused
}

// wanted says of a field what belongs in it; of a choice that was not made, only
// that one is: what a service wants there is the name of a record.
func (x *field) wanted(want string) string {
	if len(x.Options) > 0 && x.Options[0] == (option{Label: toChoose, Chosen: true}) {
		return "Please choose from the list."
	}
	return "Please enter " + want + "."
}

func (f *form) field(name string) *field {
	for i := range f.Fields {
		if f.Fields[i].Name == name {
			return &f.Fields[i]
		}
	}
	return nil
}

// outdated reports whether a form rests on a record as it is no longer.
func (f *form) outdated() bool {
	return slices.ContainsFunc(f.Fields, func(x field) bool { return x.isEtag() && x.stands != "" })
}

// isEtag reports whether a field is the version of a record.
func (x *field) isEtag() bool {
	return x.Type == "hidden" && (x.Name == "etag" || strings.HasSuffix(x.Name, ".etag"))
}

// overtaken says of a form whose record somebody else changed meanwhile what
// stands there now beside what was entered, and lets it be sent for the record as
// it is now: else what was entered would be lost.
func (f *form) overtaken() {
	f.Error = "Somebody else changed this meanwhile. What you entered is below, and beside it what is on record now where that is another. Send it again if it still holds."
	for i := range f.Fields {
		switch x := &f.Fields[i]; {
		case x.isEtag():
			x.Value = x.stands
		case x.Type != "hidden" && x.stands != "":
			x.Error = "On record now: " + strings.Join(strings.FieldsFunc(spelled(x.stands), isLineEnd), ", ") + "."
		}
	}
}

// filled puts what was entered back into a form; secrets have to be entered
// again.
func (f *form) filled(v *visit) *form {
	for i := range f.Fields {
		x := &f.Fields[i]
		if x.Type == "password" || x.Autocomplete == "one-time-code" {
			continue
		}
		if x.Type == "checkbox" { // of several by one name, each has its value
			x.Checked = slices.Contains(v.r.PostForm[x.Name], cmp.Or(x.Value, "yes"))
			continue
		}
		entered := v.value(x.Name)
		if x.Value != "" && !sameLines(x.Value, entered) {
			x.stands = x.Value
		}
		x.Value = entered
		for j := range x.Options {
			o := &x.Options[j]
			if o.Chosen && o.Value != entered {
				x.stands = o.Label
			}
			o.Chosen = o.Value == entered
		}
	}
	return f
}

// sameLines compares texts but for how their lines end, which browsers write in
// their own way.
func sameLines(a, b string) bool {
	return slices.Equal(strings.FieldsFunc(a, isLineEnd), strings.FieldsFunc(b, isLineEnd))
}

func isLineEnd(r rune) bool { return r == '\n' || r == '\r' }

// again shows a page with a form once more, with what is wrong in it.
func (v *visit) again(err error, f *form, show func(status int)) {
	refused := f.wrong(err)
	if refused.RetryAfter > 0 {
		v.w.Header().Set("Retry-After", webguard.RetryAfter(refused.RetryAfter))
	}
	show(answers[refused.Kind].status)
}
