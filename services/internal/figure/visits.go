package figure

import (
	"slices"
	"strings"

	"halfshaft/services/vehicle"
)

// Visits is the plan of the months to come: when a vehicle is to be brought and
// what for, and when it is laid up.
type Visits struct {
	Vehicle string
	Today   vehicle.Date
	Months  int // how many are shown, from the one of today; 0 is 24
	Visits  []Visit
	LayUps  []Span
}

// Visit is a day on which work falls together.
type Visit struct {
	On    vehicle.Date
	Items []string // what is done
	Note  string   // such as why they fall together
}

// Span is a time from a day up to and including another.
type Span struct {
	From, To vehicle.Date
	Note     string
}

// Figure draws the plan.
func (v Visits) Figure(r Reader, layout Layout) Figure {
	v.Visits, v.LayUps = slices.Clone(v.Visits), slices.Clone(v.LayUps)
	slices.SortStableFunc(v.Visits, func(a, b Visit) int { return a.On.Compare(b.On) })
	slices.SortStableFunc(v.LayUps, func(a, b Span) int { return a.From.Compare(b.From) })
	if v.Months <= 0 {
		v.Months = 24
	}
	return Figure{
		Title:       r.say("visits.title", facts{"vehicle": v.Vehicle, "months": r.count(v.Months)}),
		Description: v.describe(r),
		Drawing:     v.draw(r, newSheet(layout)),
		Table:       v.table(r).tidied(),
	}
}

// first is the first day that is shown.
func (v *Visits) first() vehicle.Date { return v.Today.AddDays(1 - v.Today.Day) }

// end is the day after the last that is shown.
func (v *Visits) end() vehicle.Date { return v.first().AddMonths(v.Months) }

// monthWidth is the least room of a month that can be read.
const monthWidth = 30.0

// draw draws strips of months below each other, as many months in each as have
// room.
func (v *Visits) draw(r Reader, s *sheet) Drawing {
	perRow := v.Months
	for _, n := range []int{24, 12, 6, 4} {
		if n <= v.Months && (s.width-10)/float64(n) >= monthWidth {
			perRow = n
			break
		}
	}
	if (s.width-10)/float64(perRow) < monthWidth {
		perRow = max(1, int((s.width-10)/monthWidth))
	}
	for from := 0; from < v.Months; from += perRow {
		first := v.first().AddMonths(from)
		v.strip(r, s, first, min(perRow, v.Months-from), perRow)
	}
	if len(v.Visits) == 0 {
		s.foot(r.say("visits.none", nil))
	}
	if len(v.LayUps) > 0 {
		s.foot(r.say("visits.key", nil))
	}
	return s.drawing()
}

// strip draws some months: above them what is to be done, in them lay-ups and
// today, below them their names.
func (v *Visits) strip(r Reader, s *sheet, first vehicle.Date, months, perRow int) {
	const deep = 26.0
	end := first.AddMonths(months)
	p := &plot{sheet: s}
	p.x = scale{span{float64(first.Ordinal()), float64(end.Ordinal())}, 5, 5 + (s.width-10)*float64(months)/float64(perRow)}
	at := func(d vehicle.Date) float64 { return p.x.at(float64(d.Ordinal())) }
	var told []note
	if shows(first, end, v.Today) {
		told = append(told, note{x: at(v.Today), text: r.say("today", nil), shape: Wedge, bold: true})
	}
	for _, visit := range v.Visits {
		if shows(first, end, visit.On) {
			told = append(told, note{x: at(visit.On), text: v.label(r, visit), brief: r.day(visit.On) + ": " + r.count(len(visit.Items)), shape: Square})
		}
	}
	notes := p.above(told, 8)
	top := s.height + notes.top + 6
	p.inner = box{p.x.from, top, p.x.to, top + deep}
	s.area(Bar{X: p.x.from, Y: top, Width: p.x.to - p.x.from, Height: deep, Stroke: axis})
	for _, layUp := range v.LayUps {
		from, to := at(later(layUp.From, first)), at(earlier(layUp.To.AddDays(1), end))
		if to > from {
			s.area(Bar{X: from, Y: top, Width: to - from, Height: deep, Stroke: thin, Fill: Rising})
		}
	}
	for m := range months {
		month := first.AddMonths(m)
		x, width := at(month), at(month.AddMonths(1))-at(month)
		if m > 0 {
			s.rule(Point{x, top}, Point{x, top + deep}, map[bool]Stroke{true: strong, false: grid}[month.Month == 1])
		}
		foot := top + deep + 4 + s.size
		s.write(s.plain(Point{x + width/2, foot}, Middle, Quiet, r.shortMonth(month)))
		if m == 0 || month.Month == 1 {
			if t := s.plain(Point{x, foot + s.row()}, Start, Ink, year(month)); m == 0 || s.isFreeBeside(t) {
				s.write(t)
			}
		}
	}
	notes.top += s.height
	notes.draw()
	s.height = top + deep + 2*s.row() + 8
}

// isFreeBeside is isFree for a text that is written before the height of the
// sheet is known.
func (s *sheet) isFreeBeside(t Text) bool {
	return !slices.ContainsFunc(s.taken, boxOf(t).grown(2).meets) && boxOf(t).right <= s.width
}

func shows(first, end, day vehicle.Date) bool { return !day.Before(first) && day.Before(end) }

func later(a, b vehicle.Date) vehicle.Date {
	if a.Before(b) {
		return b
	}
	return a
}

func earlier(a, b vehicle.Date) vehicle.Date {
	if a.Before(b) {
		return a
	}
	return b
}

// label says of a visit when it is, and how much there is to do.
func (v *Visits) label(r Reader, visit Visit) string {
	return r.counted("visits.label", len(visit.Items), facts{"day": r.day(visit.On), "n": r.count(len(visit.Items))})
}

// mostSaid is how many items of a visit are read out; the table has them all.
const mostSaid = 6

func (v *Visits) describe(r Reader) []string {
	var shown []Visit
	for _, visit := range v.Visits {
		if shows(v.first(), v.end(), visit.On) {
			shown = append(shown, visit)
		}
	}
	last := v.end().AddDays(-1)
	if len(shown) == 0 {
		return append([]string{r.say("visits.empty", facts{"last": r.monthYear(last)})}, v.describeLayUps(r)...)
	}
	says := []string{r.counted("visits.says", len(shown), facts{"n": r.count(len(shown)), "last": r.monthYear(last), "first": r.date(shown[0].On)})}
	for _, visit := range shown {
		if n := len(visit.Items); n > mostSaid {
			says = append(says, r.counted("visits.label", n, facts{"day": r.date(visit.On), "n": r.count(n)})+".")
			continue
		}
		says = append(says, r.say("visits.visit", facts{"date": r.date(visit.On), "items": r.list(visit.Items)}))
	}
	return append(says, v.describeLayUps(r)...)
}

func (v *Visits) describeLayUps(r Reader) (says []string) {
	for _, l := range v.LayUps {
		says = append(says, r.say("visits.layup", facts{"from": r.date(l.From), "to": r.date(l.To)}))
	}
	return says
}

func (v *Visits) table(r Reader) Table {
	t := Table{
		Caption: r.say("visits.title", facts{"vehicle": v.Vehicle, "months": r.count(v.Months)}),
		Heads:   []string{r.say("head.date", nil), r.say("head.what", nil), r.say("visits.items", nil), r.say("head.note", nil)},
	}
	for _, visit := range v.Visits {
		t.Rows = append(t.Rows, []string{r.date(visit.On), strings.Join(visit.Items, ", "), r.count(len(visit.Items)), visit.Note})
	}
	for _, l := range v.LayUps {
		t.Rows = append(t.Rows, []string{
			r.say("visits.until", facts{"from": r.date(l.From), "to": r.date(l.To)}), r.say("visits.laidup", nil), "", l.Note,
		})
	}
	return t
}
