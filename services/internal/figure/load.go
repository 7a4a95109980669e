package figure

import (
	"slices"
	"strconv"

	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// Load is how much falls due week by week.
type Load struct {
	Name     string // whose work it is: "Aldermoor Works"
	Unit     string // what is counted: "vehicles", "hours"
	Decimals int    // that a count is given to
	Weeks    []Week
	Capacity float64 // what can be done in a week; 0 where it is not known
}

// Week is what falls due in the seven days from a Monday on.
type Week struct {
	From vehicle.Date
	Due  float64
	Note string
}

// Figure draws a bar for each week.
func (l Load) Figure(r Reader, layout Layout) Figure {
	l.Weeks = slices.Clone(l.Weeks)
	slices.SortStableFunc(l.Weeks, func(a, b Week) int { return a.From.Compare(b.From) })
	f := Figure{Title: r.say("load.title", facts{"name": l.Name}), Description: l.describe(r), Table: l.table(r).tidied()}
	s := newSheet(layout)
	if len(l.Weeks) == 0 {
		f.Drawing = s.nothing(r.say("load.none", nil))
		return f
	}
	f.Drawing = l.draw(r, s)
	return f
}

func (l *Load) draw(r Reader, s *sheet) Drawing {
	most := max(1, l.Capacity)
	for _, w := range l.Weeks {
		most = max(most, w.Due)
	}
	y := wholeTicks(span{0, most * 1.08}, 5) // with room for the number above the highest
	labels := labelsOf(r, y)
	first, last := l.Weeks[0].From, l.Weeks[len(l.Weeks)-1].From.AddDays(7)
	p := s.across(labels, span{float64(first.Ordinal()), float64(last.Ordinal())}, 0)
	p.down(0, map[bool]float64{true: 170, false: 220}[s.narrow], y, labels, l.Unit)
	for _, w := range l.Weeks {
		l.bar(r, p, w)
	}
	l.weekTicks(r, p)
	if at := p.y.at(l.Capacity); l.Capacity > 0 {
		p.rule(Point{p.inner.left, at}, Point{p.inner.right, at}, broken)
		s.foot(r.say("load.capacity", facts{"n": r.number(l.Capacity, l.Decimals), "unit": l.Unit}))
	}
	return s.drawing()
}

// bar draws a week. What is beyond the capacity is hatched.
func (l *Load) bar(r Reader, p *plot, w Week) {
	if w.Due <= 0 {
		return
	}
	const widest = 48.0
	x, end := p.x.at(float64(w.From.Ordinal())), p.x.at(float64(w.From.Ordinal()+7))
	if room := end - x - widest; room > 0 {
		x, end = x+room/2, end-room/2
	}
	gap := min(2, (end-x)/6)
	look := Bar{X: x + gap, Width: end - x - 2*gap, Stroke: Stroke{Tone: Ink, Width: 1}, Fill: Wash}
	if look.Width < 4 { // too thin for a border
		look.Stroke, look.Fill = Stroke{}, Full
	}
	top, full := p.y.at(w.Due), p.y.at(w.Due)
	if l.Capacity > 0 && w.Due > l.Capacity {
		full = p.y.at(l.Capacity)
		beyond := look
		beyond.Y, beyond.Height, beyond.Stroke, beyond.Fill = top, full-top, Stroke{Tone: Ink, Width: 1}, Rising
		p.area(beyond)
	}
	look.Y, look.Height = full, p.inner.bottom-full
	p.area(look)
	text := r.number(w.Due, l.Decimals)
	if width(text, p.size, false) <= end-x-2 {
		p.label(p.plain(Point{}, Middle, Ink, text), []Text{{At: Point{(x + end) / 2, top - 6}, Anchor: Middle}})
	}
}

// weekTicks names the weeks, as many as have room, and the years below them.
func (l *Load) weekTicks(r Reader, p *plot) {
	p.height += p.row()
	room := width("30. Mmm", p.size, false) + 8
	free, named := 0.0, 0
	for _, w := range l.Weeks {
		x, end := p.x.at(float64(w.From.Ordinal())), p.x.at(float64(w.From.Ordinal()+7))
		if middle := (x + end) / 2; middle-room/2 >= free {
			p.tick(middle, 0, r.day(w.From))
			if w.From.Year != named {
				p.tick(middle, 1, strconv.Itoa(w.From.Year))
				named = w.From.Year
			}
			free = middle + room/2
		}
	}
}

func (l *Load) describe(r Reader) []string {
	if len(l.Weeks) == 0 {
		return []string{r.say("load.none", nil)}
	}
	highest, sum, over := l.Weeks[0], 0.0, 0
	for _, w := range l.Weeks {
		sum += w.Due
		if w.Due > highest.Due {
			highest = w
		}
		if l.Capacity > 0 && w.Due > l.Capacity {
			over++
		}
	}
	amount := func(v float64) string { return r.number(v, l.Decimals) + " " + l.Unit }
	says := []string{
		r.say("load.says", facts{"sum": amount(sum), "first": r.date(l.Weeks[0].From), "last": r.date(l.Weeks[len(l.Weeks)-1].From.AddDays(6))}),
		r.say("load.highest", facts{"week": r.date(highest.From), "due": amount(highest.Due)}),
	}
	if l.Capacity > 0 {
		says = append(says, r.counted("load.over", over, facts{"n": r.count(over), "capacity": amount(l.Capacity)}))
	}
	return says
}

func (l *Load) table(r Reader) Table {
	t := Table{Caption: r.say("load.title", facts{"name": l.Name}), Heads: []string{r.say("load.week", nil), wording.UpperFirst(l.Unit), r.say("head.note", nil)}}
	for _, w := range l.Weeks {
		note := w.Note
		if note == "" && l.Capacity > 0 && w.Due > l.Capacity {
			note = r.say("load.beyond", nil)
		}
		t.Rows = append(t.Rows, []string{r.date(w.From), r.number(w.Due, l.Decimals), note})
	}
	return t
}
