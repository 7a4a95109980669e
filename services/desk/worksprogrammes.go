package desk

import (
	"cmp"
	"math"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/wording"
)

// programmePath is the page of a version of a programme.
func programmePath(name string) string {
	return "/works/programmes/" + url.PathEscape(serialIn(name)) + "/" + url.PathEscape(bare(name))
}

// versionName is a version as a list calls it: "packhorse, version 2".
func versionName(name string) string { return serialIn(name) + ", version " + bare(name) }

func (v *visit) showProgrammes() {
	r, err := v.d.Schedules.ListProgrammes(v.as(), &schedulev1.ListProgrammesRequest{PageSize: 20, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Versions", Heads: []string{"Programme", "In force from", "Items", "Signed by"},
		Empty: "No programme is on record. It comes in with an import: a file for each version."}
	var names []string
	for _, p := range r.GetProgrammes() {
		names = append(names, p.GetName())
		t.Rows = append(t.Rows, []cell{{Text: versionName(p.GetName()), Path: programmePath(p.GetName()), Sub: p.GetTitle()},
			{Text: civil(p.GetEffectiveDate()), Tight: true}, {Text: strconv.Itoa(len(p.GetItems()))}, {Text: signature(p.GetSample(), p.GetSignedBy())}})
	}
	blocks := []block{{Text: []string{"What is done to a vehicle, how often, and what must be measured. The version in force on a day explains what was due then."},
		Table: t, Links: more("/works/programmes?page=", url.QueryEscape(r.GetNextPageToken()))}}
	if n := len(names); n > 1 {
		blocks = append(blocks, block{Heading: "Compare two versions", Form: compareForm("/works/compare-programmes", "version", names, names[n-2], names[n-1])})
	}
	v.worksShow("Service programmes", blocks...)
}

// programme is the version of the address.
func (v *visit) programme() (*schedulev1.Programme, error) {
	return v.d.Schedules.GetProgramme(v.as(), &schedulev1.GetProgrammeRequest{
		Name: "programmes/" + v.r.PathValue("programme") + "/versions/" + v.r.PathValue("version")})
}

func (v *visit) showProgramme() {
	p, err := v.programme()
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Items", Heads: []string{"Item", "First", "Then", "Started by", "Measured"}, Empty: "It has no items."}
	group := ""
	for _, i := range p.GetItems() {
		if i.GetGroup() != group {
			group = i.GetGroup()
			t.Rows = append(t.Rows, []cell{{Text: wording.UpperFirst(group), Over: true}})
		}
		then := cell{Text: orNothing(limbText(i.GetEvery()))}
		then.Sub = severeText(i.GetSevere())
		t.Rows = append(t.Rows, []cell{{Text: i.GetItemId() + " " + i.GetTitle(), Path: programmePath(p.GetName()) + "/" + url.PathEscape(i.GetItemId()), Sub: yes(i.GetOwnerCheck(), "the owner's own check")},
			{Text: orNothing(limbText(i.GetFirst()))}, then, {Text: orNothing(strings.Join(startTexts(i), "; "))}, {Text: orNothing(strings.Join(measuredTexts(i), "; "))}})
	}
	facts := said(fact{Label: "In force from", Value: civil(p.GetEffectiveDate())}, fact{Label: "Signed by", Value: signature(p.GetSample(), p.GetSignedBy())})
	v.worksShow(versionName(p.GetName())+": "+p.GetTitle(), block{Facts: facts, Links: []link{{Label: "All versions", Path: "/works/programmes"}}},
		block{Heading: "What is done", Text: []string{"Of a distance and a time, whichever comes first decides."}, Table: t})
}

func (v *visit) showItem() {
	p, err := v.programme()
	if err != nil {
		v.refuse(err)
		return
	}
	for _, i := range p.GetItems() {
		if i.GetItemId() == v.r.PathValue("item") {
			v.worksShow(i.GetItemId()+": "+i.GetTitle(), block{Text: []string{i.GetWhy()}, Facts: said(itemFacts(i)...),
				Links: []link{{Label: "All of " + versionName(p.GetName()), Path: programmePath(p.GetName())}}})
			return
		}
	}
	v.refuse(fault.New(fault.NotFound, "NO_ITEM", "the programme has no such item"))
}

// limbText is a limit with its units: "3000 mi or 12 months".
func limbText(l *schedulev1.Limit) string {
	var limbs []string
	if d := entered(l.GetDistance()); d != "" {
		limbs = append(limbs, d)
	}
	if n := int(l.GetMonths()); n > 0 {
		limbs = append(limbs, wording.Count(n, "month"))
	}
	return strings.Join(limbs, " or ")
}

// severeText says how hard use shortens the limit.
func severeText(s *schedulev1.Severe) string {
	if s == nil {
		return ""
	}
	var kinds, by []string
	for _, k := range s.GetWhen() {
		kinds = append(kinds, word(k, "USE_KIND_"))
	}
	if f := s.GetDistanceFactor(); f != "" {
		by = append(by, percent(f)+" of the distance")
	}
	if f := s.GetTimeFactor(); f != "" {
		by = append(by, percent(f)+" of the months")
	}
	return "with " + cmp.Or(strings.Join(kinds, ", "), "hard use of two kinds") + ": after " + strings.Join(by, " and ")
}

// percent is a factor as a share: "0.25" is "25 %". What is none stays as it is.
func percent(factor string) string {
	f, err := strconv.ParseFloat(factor, 64)
	if err != nil {
		return factor
	}
	return strconv.FormatFloat(math.Round(f*1000)/10, 'f', -1, 64) + " %"
}

// startTexts are the events that start an item.
func startTexts(i *schedulev1.Item) []string {
	var out []string
	for _, s := range i.GetStartsOn() {
		text := word(s.GetEvent(), "EVENT_KIND_")
		var within []string
		if d := entered(s.GetWithinDistance()); d != "" {
			within = append(within, d)
		}
		if n := int(s.GetWithinDays()); n > 0 {
			within = append(within, wording.Count(n, "day"))
		}
		if d := entered(s.GetNotBefore()); d != "" {
			text += ", not before " + d
		}
		if len(within) > 0 {
			text += ", within " + strings.Join(within, " or ")
		}
		out = append(out, text)
	}
	return out
}

// measuredTexts are what is measured, with the window.
func measuredTexts(i *schedulev1.Item) []string {
	var out []string
	for _, m := range i.GetMeasured() {
		text := place(m.GetCharacteristic())
		if w := windowText(m); w != "" {
			text += " " + w
		} else {
			text += ", in " + m.GetUnit()
		}
		if m.GetAction() != "" {
			text += ", ask the engineer beyond " + m.GetAction() + " " + m.GetUnit()
		}
		out = append(out, text)
	}
	return out
}

// itemFacts are all that is laid down about an item.
func itemFacts(i *schedulev1.Item) []fact {
	var parts, methods []string
	for _, p := range i.GetParts() {
		text := place(p.GetPosition())
		if p.GetQuantity() > 0 {
			text = strconv.Itoa(int(p.GetQuantity())) + " of " + text
		}
		parts = append(parts, text+yes(p.GetIfNeeded(), " if it is worn"))
	}
	for _, m := range i.GetMeasured() {
		if m.GetMethod() != "" {
			methods = append(methods, place(m.GetCharacteristic())+": "+m.GetMethod())
		}
	}
	fluid := ""
	if f := i.GetFluid(); f != nil {
		fluid = strings.TrimSpace(quantity(f.GetQuantity())+" of "+f.GetFluid()) + yes(f.GetNeverMix() != "", "; never mixed with "+f.GetNeverMix())
	}
	from := ""
	if i.GetFirst() != nil {
		from = word(i.GetFirstFrom(), "COUNTED_FROM_")
		if i.GetFirstFrom() == schedulev1.CountedFrom_COUNTED_FROM_UNSPECIFIED {
			from = cmp.Or(yes(i.GetPosition() != "", "fitting"), "delivery")
		}
	}
	return []fact{
		{Label: "Group", Value: i.GetGroup()}, {Label: "Position", Value: place(i.GetPosition())},
		{Label: "Only where", Value: i.GetAppliesWhen(), Mono: true},
		{Label: "First", Value: limbText(i.GetFirst())}, {Label: "Counted from", Value: from}, {Label: "Then every", Value: limbText(i.GetEvery())},
		{Label: "Hard use", Value: severeText(i.GetSevere())}, {Label: "Started by", Value: strings.Join(startTexts(i), "; ")},
		{Label: "Counts as done too", Value: strings.Join(i.GetResets(), ", ")},
		{Label: "Measured", Value: strings.Join(measuredTexts(i), "; ")}, {Label: "How it is measured", Value: strings.Join(methods, "; ")},
		{Label: "Fluid", Value: fluid}, {Label: "Parts", Value: strings.Join(parts, "; ")}, {Label: "Tools", Value: strings.Join(i.GetTools(), "; ")},
		{Label: "Caution", Value: i.GetCaution()}, {Label: "Described in", Value: i.GetDocRef()},
		{Label: "In a lay-up", Value: yes(i.GetLayUp() != 0, word(i.GetLayUp(), "LAY_UP_RULE_"))},
		{Label: "First notice", Value: yes(!i.GetOwnerCheck(), wording.Count(max(int(i.GetNoticeDays()), 0)+30*btoi(i.GetNoticeDays() == 0), "day")+" before")},
		{Label: "Class", Value: yes(i.GetItemClass() != 0, word(i.GetItemClass(), "ITEM_CLASS_"))},
		{Label: "Keeps its season", Value: yes(i.GetKeepCalendarDays() > 0, "where it is done within "+wording.Count(int(i.GetKeepCalendarDays()), "day")+" of the day it was due")},
		{Label: "Who does it", Value: yes(i.GetOwnerCheck(), "the owner")}, {Label: "Source", Value: sourceText(i.GetSourceMark())},
	}
}

func btoi(is bool) int {
	if is {
		return 1
	}
	return 0
}

// sourceText reads the marks of the works' list of sources.
func sourceText(mark string) string {
	words := map[rune]string{'a': "published", 'b': "common practice", 'c': "from memory"}
	var out []string
	for _, r := range mark {
		if w := words[r]; w != "" {
			out = append(out, w)
		}
	}
	switch len(out) {
	case 0:
		return mark
	case 1:
		return "interval " + out[0]
	}
	return "interval " + out[0] + ", measured value " + out[1]
}

// comparedProgrammes holds two versions against each other.
func (v *visit) comparedProgrammes() {
	q := v.r.URL.Query()
	var versions [2]*schedulev1.Programme
	for n, name := range []string{q.Get("from"), q.Get("to")} {
		p, err := v.d.Schedules.GetProgramme(v.as(), &schedulev1.GetProgrammeRequest{Name: name})
		if err != nil {
			v.refuse(err)
			return
		}
		versions[n] = p
	}
	items := func(p *schedulev1.Programme) (out []described) {
		for _, i := range p.GetItems() {
			facts := append([]fact{{Label: "Title", Value: i.GetTitle()}, {Label: "Why", Value: i.GetWhy()}}, said(itemFacts(i)...)...)
			out = append(out, described{i.GetItemId(), i.GetItemId() + " " + i.GetTitle(), facts})
		}
		return out
	}
	earlier, later := versions[0], versions[1]
	all := differences(items(earlier), items(later))
	shown, further := v.differing(all, "Version "+bare(earlier.GetName()), "Version "+bare(later.GetName()))
	v.worksPage(http.StatusOK, "What differs in the programme", block{
		Text: []string{versionName(earlier.GetName()) + ", in force from " + civil(earlier.GetEffectiveDate()) + ", against " +
			versionName(later.GetName()) + ", in force from " + civil(later.GetEffectiveDate()) + ": " + wording.Count(len(all), "item") + " of " + strconv.Itoa(len(later.GetItems())) + wording.Verb(len(all), " differs.", " differ.")},
		Table: shown, Links: append(further, link{Label: "All versions", Path: "/works/programmes"}),
	})
}
