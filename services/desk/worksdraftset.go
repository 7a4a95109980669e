package desk

import (
	"cmp"
	"regexp"
	"strconv"
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
)

// condition is one kind of condition that the form of a draft holds, at most once
// each; those that are filled in must all hold.
type condition struct {
	fields []field // without values; the first is where a refusal is shown
	read   func(t *typed) *bulletinv1.SetCondition
	show   func(c *bulletinv1.SetCondition) []string // by fields; nil where the condition is another
}

const inSet = "bulletin.set."

func setField(name, label, hint string) field {
	return field{Name: inSet + name, Label: label, Type: "text", Autocomplete: "off", Hint: hint}
}

func dayField(name, label string) field {
	return field{Name: inSet + name, Label: label, Type: "date"}
}

// wordsCondition is one that lists words in one field.
func wordsCondition(f field, wrap func(*bulletinv1.TextSet) *bulletinv1.SetCondition, open func(*bulletinv1.SetCondition) *bulletinv1.TextSet) condition {
	return condition{[]field{f},
		func(t *typed) *bulletinv1.SetCondition {
			if words := t.list(f.Name); len(words) > 0 {
				return wrap(&bulletinv1.TextSet{Values: words})
			}
			return nil
		},
		func(c *bulletinv1.SetCondition) []string {
			if set := open(c); set != nil {
				return []string{strings.Join(set.GetValues(), ", ")}
			}
			return nil
		}}
}

// textCondition is one that is a text.
func textCondition(f field, wrap func(string) *bulletinv1.SetCondition, open func(*bulletinv1.SetCondition) string) condition {
	return condition{[]field{f},
		func(t *typed) *bulletinv1.SetCondition {
			if text := t.value(f.Name); text != "" {
				return wrap(text)
			}
			return nil
		},
		func(c *bulletinv1.SetCondition) []string {
			if text := open(c); text != "" {
				return []string{text}
			}
			return nil
		}}
}

// daysCondition is one between two days.
func daysCondition(from, until field, wrap func(*bulletinv1.DateRange) *bulletinv1.SetCondition, open func(*bulletinv1.SetCondition) *bulletinv1.DateRange) condition {
	return condition{[]field{from, until},
		func(t *typed) *bulletinv1.SetCondition {
			start, end := t.date(from.Name), t.date(until.Name)
			if start == nil && end == nil {
				return nil
			}
			return wrap(&bulletinv1.DateRange{StartDate: start, EndDate: end})
		},
		func(c *bulletinv1.SetCondition) []string {
			if days := open(c); days != nil {
				return []string{iso(days.GetStartDate()), iso(days.GetEndDate())}
			}
			return nil
		}}
}

// conditions are all kinds, in the order of the form.
func conditions() []condition {
	type set = bulletinv1.SetCondition
	return []condition{
		wordsCondition(setField("release", "Some position follows one of these releases today", "As in R3, R4."),
			func(w *bulletinv1.TextSet) *set {
				return &set{Condition: &bulletinv1.SetCondition_Release{Release: w}}
			}, (*set).GetRelease),
		wordsCondition(setField("built_release", "It left the works to one of these releases", ""),
			func(w *bulletinv1.TextSet) *set {
				return &set{Condition: &bulletinv1.SetCondition_BuiltRelease{BuiltRelease: w}}
			}, (*set).GetBuiltRelease),
		textCondition(setField("option", "It has this option today", "Its short name, as in winch."),
			func(o string) *set { return &set{Condition: &bulletinv1.SetCondition_Option{Option: o}} }, (*set).GetOption),
		textCondition(setField("built_option", "It left the works with this option", ""),
			func(o string) *set {
				return &set{Condition: &bulletinv1.SetCondition_BuiltOption{BuiltOption: o}}
			}, (*set).GetBuiltOption),
		serialsCondition(), daysCondition(dayField("built.start", "Built from"), dayField("built.end", "Built until"),
			func(d *bulletinv1.DateRange) *set { return &set{Condition: &bulletinv1.SetCondition_Built{Built: d}} }, (*set).GetBuilt),
		daysCondition(dayField("delivered.start", "Delivered from"), dayField("delivered.end", "Delivered until"),
			func(d *bulletinv1.DateRange) *set {
				return &set{Condition: &bulletinv1.SetCondition_Delivered{Delivered: d}}
			}, (*set).GetDelivered),
		fittedCondition(), useCondition(),
		wordsCondition(setField("market", "Its market is one of these", "As in GB, DE."),
			func(w *bulletinv1.TextSet) *set { return &set{Condition: &bulletinv1.SetCondition_Market{Market: w}} }, (*set).GetMarket),
		wordsCondition(setField("wheelbase", "Its wheelbase is one of these", "short, long."),
			func(w *bulletinv1.TextSet) *set {
				return &set{Condition: &bulletinv1.SetCondition_Wheelbase{Wheelbase: w}}
			}, (*set).GetWheelbase),
		textCondition(setField("expression", "An expression holds for what it is made up of", `As in the programme: "winch" in options.`),
			func(x string) *set { return &set{Condition: &bulletinv1.SetCondition_Expression{Expression: x}} }, (*set).GetExpression),
	}
}

func serialsCondition() condition {
	first, last := setField("first_serial", "Serial from", "With the check character, as in AM0147P."), setField("last_serial", "Serial to", "")
	return condition{[]field{first, last},
		func(t *typed) *bulletinv1.SetCondition {
			from, to := t.value(first.Name), t.value(last.Name)
			if from == "" && to == "" {
				return nil
			}
			return &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_Serials{Serials: &bulletinv1.SerialRange{First: from, Last: to}}}
		},
		func(c *bulletinv1.SetCondition) []string {
			if r := c.GetSerials(); r != nil && len(r.GetExceptSerials()) == 0 {
				return []string{r.GetFirst(), r.GetLast()}
			}
			return nil
		}}
}

func fittedCondition() condition {
	at, parts, lots := setField("fitted.position", "A unit stands here", "A position, as in rear axle differential."), setField("fitted.parts", "Its part number is one of these", ""), setField("fitted.lots", "Its lot is one of these", "")
	serials, ever := setField("fitted.serials", "Its own serial is one of these", ""), field{Name: inSet + "fitted.ever", Label: "It is enough that it once stood there", Type: "checkbox"}
	return condition{[]field{at, parts, lots, serials, ever},
		func(t *typed) *bulletinv1.SetCondition {
			u := &bulletinv1.FittedUnit{Position: hyphened(t.value(at.Name)), Parts: t.list(parts.Name), Lots: t.list(lots.Name), Serials: t.list(serials.Name), Ever: t.ticked(ever.Name)}
			if u.Position == "" && len(u.Parts)+len(u.Lots)+len(u.Serials) == 0 {
				return nil
			}
			return &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_Fitted{Fitted: u}}
		},
		func(c *bulletinv1.SetCondition) []string {
			if u := c.GetFitted(); u != nil {
				return []string{u.GetPosition(), strings.Join(u.GetParts(), ", "), strings.Join(u.GetLots(), ", "), strings.Join(u.GetSerials(), ", "), yes(u.GetEver(), "yes")}
			}
			return nil
		}}
}

func useCondition() condition {
	kinds, ever := setField("use.kinds", "It is used in one of these ways", "salt coast, dust, wading, towing, short trips, humid, laid up, seasonal."), field{Name: inSet + "use.ever", Label: "It is enough that it once was", Type: "checkbox"}
	return condition{[]field{kinds, ever},
		func(t *typed) *bulletinv1.SetCondition {
			use := &bulletinv1.UseCondition{Ever: t.ticked(ever.Name)}
			for _, k := range t.list(kinds.Name) {
				kind := schedulev1.UseKind(schedulev1.UseKind_value["USE_KIND_"+strings.ToUpper(strings.ReplaceAll(hyphened(k), "-", "_"))])
				if kind == 0 {
					t.wrong = append(t.wrong, fault.Field{Name: kinds.Name, Got: k, Want: kinds.Hint[:len(kinds.Hint)-1] + " instead of “" + k + "”"})
				}
				use.Kinds = append(use.Kinds, kind)
			}
			if len(use.Kinds) == 0 {
				return nil
			}
			return &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_Use{Use: use}}
		},
		func(c *bulletinv1.SetCondition) []string {
			if u := c.GetUse(); u != nil {
				var words []string
				for _, k := range u.GetKinds() {
					words = append(words, word(k, "USE_KIND_"))
				}
				return []string{strings.Join(words, ", "), yes(u.GetEver(), "yes")}
			}
			return nil
		}}
}

// conditionsOf gives the values of the form's fields by their names; false where
// the conditions are more than the form can hold.
func conditionsOf(c *bulletinv1.SetCondition) (map[string]string, bool) {
	values := map[string]string{}
	parts := c.GetAll().GetConditions()
	if c != nil && c.GetAll() == nil {
		parts = []*bulletinv1.SetCondition{c}
	}
	taken := map[int]bool{}
	for _, part := range parts {
		found := false
		for n, k := range conditions() {
			shown := k.show(part)
			if shown == nil || taken[n] {
				continue
			}
			taken[n], found = true, true
			for i, f := range k.fields {
				values[f.Name] = shown[i]
			}
			break
		}
		if !found {
			return nil, false
		}
	}
	return values, true
}

// setFields ask which vehicles.
func setFields(s *bulletinv1.BulletinSet) []field {
	list := func(name, label, hint string, serials []string) field {
		return field{Name: inSet + name, Label: label, Value: strings.Join(serials, ", "), Lines: 2, Hint: hint}
	}
	out := []field{list("serials", "These vehicles", "Serials with their check characters, parted by commas.", s.GetSerials()),
		list("except_serials", "But never these", "", s.GetExceptSerials())}
	out[0].Legend = "Which vehicles: those listed, and those for which all of the conditions hold that are filled in"
	values, simple := conditionsOf(s.GetCondition())
	if !simple {
		return out
	}
	for _, k := range conditions() {
		for _, f := range k.fields {
			if f.Value = values[f.Name]; f.Type == "checkbox" {
				f.Checked, f.Value = f.Value != "", ""
			}
			out = append(out, f)
		}
	}
	return out
}

// set reads which vehicles. Conditions that the form cannot hold stay.
func (t *typed) set(stands *bulletinv1.BulletinSet) *bulletinv1.BulletinSet {
	out := &bulletinv1.BulletinSet{Serials: t.list(inSet + "serials"), ExceptSerials: t.list(inSet + "except_serials")}
	if _, simple := conditionsOf(stands.GetCondition()); !simple {
		out.Condition = stands.GetCondition()
		return out
	}
	var all []*bulletinv1.SetCondition
	for _, k := range conditions() {
		if c := k.read(t); c != nil {
			all = append(all, c)
			t.order = append(t.order, k.fields[0].Name)
		}
	}
	switch len(all) {
	case 0:
	case 1:
		out.Condition = all[0]
	default:
		out.Condition = &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_All{All: &bulletinv1.SetConditions{Conditions: all}}}
	}
	return out
}

// inCondition takes the name of a field of a condition apart.
var inCondition = regexp.MustCompile(`^bulletin\.set\.condition(?:\.all\.conditions\[(\d+)\])?(?:\.|$)(.*)`)

// conditionField says in which field of the form a part of a condition was typed.
func (t *typed) conditionField(name string) string {
	m := inCondition.FindStringSubmatch(name)
	if m == nil {
		return name
	}
	n, err := strconv.Atoi(cmp.Or(m[1], "0"))
	if err != nil || n >= len(t.order) {
		return name
	}
	return t.order[n]
}
