package reminderwords

import (
	"strconv"
	"strings"

	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// reason says why an item is due, in the reader's language and unit: the limit
// that decides, what it is counted from, how far the vehicle went, and what
// shortens or moves it. It is made from the schedule's reasons; where their
// rule is not known here, the schedule's own English sentence stands for it.
func (w *writer) reason(i reminder.Item) string {
	if len(i.Reasons) == 0 {
		return w.ours(i.Sentence)
	}
	rs := reasons(i.Reasons)
	first, ok := w.limb(rs)
	if !ok {
		sentence := i.Sentence
		if sentence == "" {
			sentence = rs[0].Sentence
		}
		return w.ours(sentence)
	}
	sentences := []string{first}
	for _, r := range rs[1:] {
		if text := w.further(rs, r); text != "" {
			sentences = append(sentences, text)
		}
	}
	return strings.Join(sentences, " ")
}

// reasons are those of one item.
type reasons []vehicle.Reason

// of gives the reason of a rule.
func (rs reasons) of(rule string) (vehicle.Reason, bool) {
	for _, r := range rs {
		if r.Rule == rule {
			return r, true
		}
	}
	return vehicle.Reason{}, false
}

// dateOf reads a date among the facts; zero when there is none.
func dateOf(r vehicle.Reason, name string) vehicle.Date {
	d, _ := vehicle.ParseDate(r.Fact(name)) // a fact that is no date is not told
	return d
}

// limb says which limit decides; false where the rule is not known.
func (w *writer) limb(rs reasons) (string, bool) {
	switch rs[0].Rule {
	case "TIME_LIMB_FIRST", "TIME_LIMB_ONLY":
		return w.timeLimb(rs)
	case "DISTANCE_LIMB_FIRST", "DISTANCE_LIMB_ONLY":
		return w.distanceLimb(rs)
	case "READING_WORTH_ASKING":
		return w.worthAsking(rs[0])
	}
	return "", false
}

func (w *writer) timeLimb(rs reasons) (string, bool) {
	since, event, ok := w.since(rs)
	text, told := w.span(rs, since)
	if !ok || !told {
		return "", false
	}
	driven, moved := distanceOf(rs[0], "driven")
	interval, limited := distanceOf(rs[0], "interval_distance")
	switch {
	case moved && limited:
		text += "; " + w.say("reason.driven", with{"driven": w.near(driven), "interval": w.exact(interval)})
	case !event && rs[0].Rule == "TIME_LIMB_ONLY":
		text += "; " + w.say("reason.no-distance", nil)
	}
	return text + ".", true
}

// span says how long after what the time limit falls.
func (w *writer) span(rs reasons, since string) (string, bool) {
	r := rs[0]
	months, noMonths := strconv.Atoi(r.Fact("interval_months"))
	days, noDays := strconv.Atoi(r.Fact("interval_days"))
	from, due, kept := dateOf(r, "counted_from"), dateOf(r, "due_date"), dateOf(r, "was_due")
	severe, hard := rs.of("SEVERE_USE")
	revised, earlier := rs.of("PROGRAMME_REVISED")
	switch {
	case noMonths == nil && hard && !from.IsZero() && due.After(from.AddMonths(months)):
		return w.count("reason.severe-from", months, with{"uses": w.uses(severe), "since": since}), true
	case noMonths == nil && !kept.IsZero():
		return w.count("reason.kept", months, with{"due": w.locale.Date(kept), "done": w.locale.Date(from)}), true
	case noMonths == nil:
		return w.count("reason.months", months, with{"since": since}), true
	case noDays == nil && days == 0:
		return w.say("reason.at-once", with{"since": since}), true
	case noDays == nil:
		return w.count("reason.days", days, with{"since": since}), true
	case earlier:
		return w.say("reason.revised", with{"date": w.locale.Date(dateOf(revised, "effective_date")), "since": since}), true
	}
	return "", false
}

// since says what a round is counted from; event is true where something that
// happened started it.
func (w *writer) since(rs reasons) (text string, event, ok bool) {
	for _, rule := range []string{"LAST_DONE", "COUNTED_FROM_FITTING", "COUNTED_FROM_DELIVERY", "COUNTED_FROM_LAY_UP", "STARTED_BY_EVENT"} {
		r, found := rs.of(rule)
		if !found {
			continue
		}
		date := w.locale.Date(dateOf(r, "date"))
		if date == "" {
			return "", false, false
		}
		switch rule {
		case "LAST_DONE":
			return w.say("since.done", with{"date": date}), false, true
		case "COUNTED_FROM_FITTING":
			return w.say("since.fitting", with{"date": date, "place": w.name(r.Fact("position"))}), false, true
		case "COUNTED_FROM_DELIVERY":
			return w.say("since.delivery", with{"date": date}), false, true
		case "COUNTED_FROM_LAY_UP":
			return w.say("since.lay-up", with{"date": date}), false, true
		}
		key := phraseOf("event.", r.Fact("event"))
		if !w.phrases.Has(key) {
			return "", true, false
		}
		return w.say("since.event", with{"event": w.say(key, nil), "date": date}), true, true
	}
	return "", false, false
}

// phraseOf makes a key of the words by which the schedule names an event or a
// use.
func phraseOf(prefix, words string) string {
	return prefix + strings.ReplaceAll(strings.ReplaceAll(words, ",", ""), " ", "-")
}

func (w *writer) distanceLimb(rs reasons) (string, bool) {
	r := rs[0]
	since, _, ok := w.since(rs)
	interval, limited := distanceOf(r, "interval_distance")
	driven, moved := distanceOf(r, "driven")
	year, paced := distanceOf(r, "per_year")
	if !ok || !limited || !moved || !paced {
		return "", false
	}
	text := w.say("reason.distance", with{
		"interval": w.exact(interval), "since": since, "driven": w.near(driven), "year": w.near(year),
	})
	if by := dateOf(r, "time_due_date"); !by.IsZero() {
		text += "; " + w.say("reason.not-sooner", with{"date": w.locale.Date(by)})
	}
	return text + ".", true
}

func (w *writer) worthAsking(r vehicle.Reason) (string, bool) {
	early, late := dateOf(r, "early"), dateOf(r, "late")
	if early.IsZero() {
		return "", false
	}
	if early.Before(w.today) {
		early = w.today
	}
	key, data := "reason.reading", with{"early": w.locale.Date(early), "late": w.locale.Date(late)}
	if title := r.Fact("title"); title != "" {
		key += "-item"
		data["title"] = w.ours(title)
	}
	if late.IsZero() {
		key += "-open"
	}
	return w.say(key, data), true
}

// silent are the rules of which another sentence already tells, or which are
// for the works.
var silent = map[string]bool{
	"COUNTED_FROM_LAY_UP": true, "STARTED_BY_EVENT": true,
	"PROGRAMME_REVISED": true, "NOT_BEFORE": true, "PACE_FROM_READINGS": true, "PACE_ASSUMED": true,
}

// further is what a reason after the first one adds; "" for nothing.
func (w *writer) further(rs reasons, r vehicle.Reason) string {
	switch r.Rule {
	case "LAST_DONE":
		return w.stood(r)
	case "COUNTED_FROM_FITTING", "COUNTED_FROM_DELIVERY":
		return w.bedding(r)
	case "SEVERE_USE":
		return w.severe(rs, r)
	case "LAY_UP":
		return w.laidUp(r)
	case "DISTANCE_FORECAST":
		return w.chances(rs, r)
	case "TRAITS_ASSUMED":
		return w.say("reason.assumed", with{"part": OneLine(r.Fact("part")), "like": OneLine(r.Fact("like_part"))})
	}
	if silent[r.Rule] {
		return ""
	}
	return w.ours(r.Sentence)
}

// stood says where the unit stood when the work was last done, where that was
// elsewhere.
func (w *writer) stood(r vehicle.Reason) string {
	where := r.Fact("stood_at")
	if where == "" {
		return ""
	}
	head, place, _ := strings.Cut(where, " ")
	if !vehicle.Serial(head).Valid() {
		head, place = "", where
	}
	if place != "" {
		place = w.name(place)
	}
	return w.say("reason.stood", with{"where": strings.TrimSpace(head + " " + place)})
}

func (w *writer) bedding(r vehicle.Reason) string {
	if r.Fact("bedding_in") == "" {
		return ""
	}
	return w.say("reason.bedding", nil)
}

// severe names the hard use, unless the first clause has.
func (w *writer) severe(rs reasons, r vehicle.Reason) string {
	first := rs[0]
	months, err := strconv.Atoi(first.Fact("interval_months"))
	if err == nil && dateOf(first, "due_date").After(dateOf(first, "counted_from").AddMonths(months)) {
		return ""
	}
	return w.say("reason.severe", with{"uses": w.uses(r)})
}

func (w *writer) uses(r vehicle.Reason) string {
	var uses []string
	for _, use := range strings.Split(r.Fact("use"), " and ") {
		key := phraseOf("use.", use)
		if w.phrases.Has(key) {
			uses = append(uses, w.say(key, nil))
		} else if use != "" {
			uses = append(uses, w.ours(use))
		}
	}
	return w.locale.List(uses)
}

func (w *writer) laidUp(r vehicle.Reason) string {
	from, by := dateOf(r, "lay_up_from"), dateOf(r, "act_by")
	switch {
	case by.IsZero():
		return w.say("reason.laid-up.open", nil)
	case by.Before(from):
		return w.say("reason.laid-up.before", with{"date": w.locale.Date(by)})
	}
	return w.say("reason.laid-up.after", with{"date": w.locale.Date(by)})
}

// chances says how sure the day of a distance is, where the distance decides.
func (w *writer) chances(rs reasons, r vehicle.Reason) string {
	early, late := dateOf(r, "early"), dateOf(r, "late")
	switch {
	case !strings.HasPrefix(rs[0].Rule, "DISTANCE_LIMB") || late.IsZero():
		return ""
	case early.Before(w.today):
		return w.say("reason.any-day", with{"late": w.locale.Date(late)})
	}
	return w.say("reason.range", with{"early": w.locale.Date(early), "late": w.locale.Date(late)})
}
