package desk

import (
	"cmp"
	"net/http"
	"slices"
	"time"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
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
	out := []option{{Value: "", Label: "choose"}}
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
	var all []*schedulev1.UseFact
	err := pages(func(token string) (string, error) {
		r, err := v.d.Schedules.ListUseFacts(v.as(), &schedulev1.ListUseFactsRequest{Parent: v.vehicle(), PageSize: 500, PageToken: token})
		all = append(all, r.GetUseFacts()...)
		return r.GetNextPageToken(), err
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
	return upperFirst(text)
}

// usesTable lists them, each with where it is ended while it lasts.
func (v *visit) usesTable(all []*schedulev1.UseFact) *table {
	t := &table{Caption: "How it is used", Heads: []string{"Use", "From", "Until", ""}, Empty: "Nothing was said of it so far: the schedule takes its use for ordinary."}
	for _, u := range all {
		until, end := "it lasts", cell{}
		if u.GetEndDate() != nil {
			until = civil(u.GetEndDate())
		} else {
			end.Form = &form{ID: "end-" + bare(u.GetName()), Action: v.at("/use"), Submit: "It is over", Fields: []field{
				{Name: "ended", Type: "hidden", Value: bare(u.GetName())}, {Name: "use_fact.etag", Type: "hidden", Value: u.GetEtag()},
				{Name: "use_fact.end_date", Label: "Last day of it", Type: "date", Required: true}, requestField(),
			}}
		}
		t.Rows = append(t.Rows, []cell{{Text: useText(u), Sub: u.GetNote()}, {Text: civil(u.GetStartDate()), Tight: true}, {Text: until, Tight: true}, end})
	}
	return t
}

func (v *visit) showUse() { v.usePage(http.StatusOK, v.useForm(), "") }

// usePage shows what is on record above the form for more; wrong is what was
// refused of an end.
func (v *visit) usePage(status int, f *form, wrong string) {
	all, err := v.uses()
	if err != nil {
		v.refuse(err)
		return
	}
	b := block{Heading: "On record", Table: v.usesTable(all)}
	if wrong != "" {
		b.Text = []string{wrong}
	}
	v.formPage(status, "How it is used", f, b)
}

func (v *visit) recordUse() {
	if !v.readForm() {
		return
	}
	t := &typed{visit: v}
	u := &schedulev1.UseFact{EndDate: t.date("use_fact.end_date")}
	if id := v.value("ended"); id != "" {
		u.Name, u.Etag = v.vehicle()+"/useFacts/"+bare(id), v.value("use_fact.etag")
		err := t.err()
		if err == nil {
			_, err = v.d.Schedules.EndUse(v.as(), &schedulev1.EndUseRequest{UseFact: u, RequestId: v.request()})
		}
		if err != nil {
			refused := refusal(err)
			v.usePage(answers[refused.Kind].status, v.useForm(), sentence(refused))
			return
		}
		v.goTo(v.at("/use?done=use-ended"))
		return
	}
	u.Kind = schedulev1.UseKind(schedulev1.UseKind_value[v.value("use_fact.kind")])
	u.StartDate, u.Note = t.date("use_fact.start_date"), v.value("use_fact.note")
	u.FirstMonth, u.LastMonth = monthOf(v.value("use_fact.first_month")), monthOf(v.value("use_fact.last_month"))
	if season := u.GetKind() == schedulev1.UseKind_USE_KIND_SEASONAL; season && u.GetFirstMonth() == 0 || season && u.GetLastMonth() == 0 {
		t.wrong = append(t.wrong, fault.Field{Name: "use_fact.first_month", Want: "the first month of the season, and its last below"})
	}
	err := t.err()
	if err == nil {
		_, err = v.d.Schedules.DeclareUse(v.as(), &schedulev1.DeclareUseRequest{Parent: v.vehicle(), UseFact: u, RequestId: v.request()})
	}
	if err != nil {
		f := v.useForm().filled(v)
		v.again(err, f, func(status int) { v.usePage(status, f, "") })
		return
	}
	v.goTo(v.at("?done=use"))
}
