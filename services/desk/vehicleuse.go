package desk

import (
	"cmp"
	"net/http"
	"slices"
	"time"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/wording"
)

// useWords are how a vehicle may be used, in the words in which the caller is
// asked.
var useWords = map[schedulev1.UseKind]string{
	schedulev1.UseKind_USE_KIND_SALT_COAST:  "kept by the sea or often on the beach",
	schedulev1.UseKind_USE_KIND_DUST:        "on dusty roads for a tenth of its distance or more",
	schedulev1.UseKind_USE_KIND_WADING:      "wades above its hubs",
	schedulev1.UseKind_USE_KIND_TOWING:      "tows or winches every month",
	schedulev1.UseKind_USE_KIND_SHORT_TRIPS: "mostly trips of under five miles",
	schedulev1.UseKind_USE_KIND_HUMID:       "in tropical humidity",
	schedulev1.UseKind_USE_KIND_LAID_UP:     "laid up: not driven",
	schedulev1.UseKind_USE_KIND_SEASONAL:    "driven in some months only",
}

func useOptions() []option {
	out := []option{{Label: toChoose}}
	for n := int32(1); schedulev1.UseKind_name[n] != ""; n++ {
		k := schedulev1.UseKind(n)
		out = append(out, option{Value: k.String(), Label: cmp.Or(useWords[k], word(k, "USE_KIND_"))})
	}
	return out
}

// monthOptions offers the months of the year; none is for every use but that of
// a season.
func monthOptions() []option {
	out := []option{{Value: "", Label: "not a season"}}
	for m := time.January; m <= time.December; m++ {
		out = append(out, option{Value: m.String(), Label: m.String()})
	}
	return out
}

// monthOf reads a month of the options; 0 for none.
func monthOf(text string) int32 {
	for m := time.January; m <= time.December; m++ {
		if m.String() == text {
			return int32(m)
		}
	}
	return 0
}

func (v *visit) useForm() *form {
	return &form{ID: "use", Action: v.at("/use"), Submit: "Record the use", Fields: []field{
		{Name: "use_fact.kind", Label: "How it is used", Options: useOptions()},
		{Name: "use_fact.start_date", Label: "From", Type: "date", Hint: "Left empty, it is today."},
		{Name: "use_fact.end_date", Label: "Until", Type: "date", Hint: "Left empty while it lasts, or while nobody knows when it is driven again."},
		{Name: "use_fact.first_month", Label: "First month of the season", Options: monthOptions()},
		{Name: "use_fact.last_month", Label: "Last month of the season", Options: monthOptions()},
		{Name: "use_fact.note", Label: "Note, without names", Type: "text", Autocomplete: "off"}, requestField(),
	}}
}

// uses are what was said of how the vehicle is used, the latest first.
func (v *visit) uses() ([]*schedulev1.UseFact, error) {
	all, err := page.All(func(token string) ([]*schedulev1.UseFact, string, error) {
		r, err := v.d.Schedules.ListUseFacts(v.as(), &schedulev1.ListUseFactsRequest{Parent: v.vehicle(), PageSize: 500, PageToken: token})
		return r.GetUseFacts(), r.GetNextPageToken(), err
	})
	slices.SortStableFunc(all, func(a, b *schedulev1.UseFact) int {
		return onDay(b.GetStartDate()).Compare(onDay(a.GetStartDate()))
	})
	return all, err
}

func useText(u *schedulev1.UseFact) string {
	text := cmp.Or(useWords[u.GetKind()], word(u.GetKind(), "USE_KIND_"))
	if u.GetFirstMonth() > 0 && u.GetLastMonth() > 0 {
		text = "driven from " + time.Month(u.GetFirstMonth()).String() + " to " + time.Month(u.GetLastMonth()).String() + " only"
	}
	return wording.UpperFirst(text)
}

// endForm ends one of them.
func (v *visit) endForm(u *schedulev1.UseFact) *form {
	return &form{ID: "end-" + bare(u.GetName()), Action: v.at("/use"), Submit: "It is over", Fields: []field{
		{Name: "ended", Type: "hidden", Value: bare(u.GetName())}, {Name: "use_fact.etag", Type: "hidden", Value: u.GetEtag()},
		{Name: "use_fact.end_date", Label: "Last day of it", Type: "date", Required: true}, requestField(),
	}}
}

// usesTable lists them, each with where it is ended while it lasts.
func (v *visit) usesTable(all []*schedulev1.UseFact, wrong *form) *table {
	t := &table{Caption: "How it is used", Heads: []string{"Use", "From", "Until", ""}, Empty: "Nothing was said of it so far: the schedule takes its use for ordinary."}
	for _, u := range all {
		until, end, last := "it lasts", cell{}, onDay(u.GetEndDate())
		if !last.IsZero() {
			until = last.Long()
		}
		if last.IsZero() || !last.Before(v.today()) { // a lay-up may end before it was to
			end.Form = chosen(v.endForm(u), wrong)
		}
		t.Rows = append(t.Rows, []cell{{Text: useText(u), Sub: u.GetNote()}, {Text: civil(u.GetStartDate()), Tight: true}, {Text: until, Tight: true}, end})
	}
	return t
}

func (v *visit) showUse() { v.usePage(http.StatusOK, nil) }

// usePage shows what is on record above the form for more. A form with faults
// takes the place of the one like it.
func (v *visit) usePage(status int, wrong *form) {
	all, err := v.uses()
	if err != nil {
		v.refuse(err)
		return
	}
	v.formPage(status, "How it is used", chosen(v.useForm(), wrong), block{Heading: "On record", Table: v.usesTable(all, wrong)})
}

func (v *visit) recordUse() {
	if !v.readForm() {
		return
	}
	if v.value("ended") != "" {
		v.endUse()
		return
	}
	t := &typed{visit: v}
	u := &schedulev1.UseFact{
		Kind:      schedulev1.UseKind(schedulev1.UseKind_value[v.value("use_fact.kind")]),
		StartDate: t.date("use_fact.start_date"), EndDate: t.date("use_fact.end_date"), Note: v.value("use_fact.note"),
		FirstMonth: monthOf(v.value("use_fact.first_month")), LastMonth: monthOf(v.value("use_fact.last_month")),
	}
	err := t.err()
	if err == nil {
		_, err = v.d.Schedules.DeclareUse(v.as(), &schedulev1.DeclareUseRequest{Parent: v.vehicle(), UseFact: u, RequestId: v.request()})
	}
	if err != nil {
		f := v.useForm().filled(v)
		v.again(err, f, func(status int) { v.usePage(status, f) })
		return
	}
	v.goTo(v.at("?done=use"))
}

// endUse ends what was said before. Where it is not there to be ended any more,
// nor is its form.
func (v *visit) endUse() {
	t := &typed{visit: v}
	u := &schedulev1.UseFact{Name: v.vehicle() + "/useFacts/" + bare(v.value("ended")), Etag: v.value("use_fact.etag"), EndDate: t.date("use_fact.end_date")}
	err := t.err()
	if err == nil {
		_, err = v.d.Schedules.EndUse(v.as(), &schedulev1.EndUseRequest{UseFact: u, RequestId: v.request()})
	}
	switch {
	case err == nil:
		v.goTo(v.at("/use?done=use-ended"))
	case refusal(err).Kind == fault.Invalid:
		f := v.endForm(u).filled(v)
		v.again(err, f, func(status int) { v.usePage(status, f) })
	default:
		v.refuse(err)
	}
}
