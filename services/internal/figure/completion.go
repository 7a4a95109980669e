package figure

import (
	"math"
	"slices"

	"halfshaft/services/vehicle"
)

// Completion is how far a campaign has come: how many of its vehicles are done,
// day by day, and when letters went out.
type Completion struct {
	Name    string // of the campaign
	Total   int    // vehicles on its list today
	Today   vehicle.Date
	Points  []CompletionPoint // the days on which it changed, the first of them its issue
	Letters []Letter
}

// CompletionPoint is how many vehicles are done at the end of a day.
type CompletionPoint struct {
	On   vehicle.Date
	Done int
}

// Letter is a day on which owners were written to.
type Letter struct {
	On   vehicle.Date
	Name string // "first letter"
	Sent int    // to how many owners; 0 where it is not known
}

// Figure draws the curve.
func (c Completion) Figure(r Reader, layout Layout) Figure {
	c.Points, c.Letters = slices.Clone(c.Points), slices.Clone(c.Letters)
	slices.SortStableFunc(c.Points, func(a, b CompletionPoint) int { return a.On.Compare(b.On) })
	slices.SortStableFunc(c.Letters, func(a, b Letter) int { return a.On.Compare(b.On) })
	f := Figure{Title: r.say("completion.title", facts{"name": c.Name}), Description: c.describe(r), Table: c.table(r).tidied()}
	s := newSheet(layout)
	if len(c.Points) == 0 {
		f.Drawing = s.nothing(r.say("completion.none", nil))
		return f
	}
	f.Drawing = c.draw(r, s)
	return f
}

func (c *Completion) draw(r Reader, s *sheet) Drawing {
	first, last := c.Points[0].On, later(c.Points[len(c.Points)-1].On, c.Today)
	most := float64(c.Total)
	for _, p := range c.Points {
		most = max(most, float64(p.Done))
	}
	for _, l := range c.Letters {
		first, last = earlier(first, l.On), later(last, l.On)
	}
	if first == last {
		first, last = first.AddDays(-15), last.AddDays(15)
	}
	y := wholeTicks(span{0, most}, 5)
	labels := labelsOf(r, y)
	done := c.Points[len(c.Points)-1].Done
	now := fitted(r.say("completion.of", facts{"done": r.count(done), "total": r.count(c.Total)}), s.width*0.4, s.size, true)
	p := s.across(labels, span{float64(first.Ordinal()), float64(last.Ordinal())}, width(now, s.size, true)+8)
	var happened []note
	for _, l := range c.Letters {
		happened = append(happened, note{x: p.x.at(float64(l.On.Ordinal())), text: l.Name, shape: Wedge})
	}
	notes := p.above(happened, 3)
	p.down(notes.top, map[bool]float64{true: 180, false: 240}[s.narrow], y, labels, r.say("completion.unit", nil))
	notes.draw()
	p.days(r)
	all := p.y.at(float64(c.Total))
	total := []Point{{p.inner.left, all}, {p.inner.right, all}}
	p.rule(total[0], total[1], medium)
	p.avoid(total)
	c.drawSteps(p, last)
	at := p.y.at(float64(done))
	t := p.plain(Point{p.inner.right + 6, max(at, p.inner.top) + 0.35*p.size}, Start, Ink, now)
	t.Bold = true
	p.write(t)
	text := r.say("completion.all", facts{"total": r.count(c.Total)})
	p.label(p.plain(Point{}, Start, Ink, fitted(text, p.inner.right-p.inner.left-8, p.size, false)), p.beside(p.inner.left, all, text))
	return s.drawing()
}

// drawSteps draws the curve: between two days on which something changed
// nothing did.
func (c *Completion) drawSteps(p *plot, last vehicle.Date) {
	var steps []Point
	for i, point := range c.Points {
		x, y := p.x.at(float64(point.On.Ordinal())), p.y.at(float64(point.Done))
		if i > 0 {
			steps = append(steps, Point{x, steps[len(steps)-1].Y})
		}
		steps = append(steps, Point{x, y})
	}
	steps = append(steps, Point{p.x.at(float64(last.Ordinal())), steps[len(steps)-1].Y})
	under := slices.Concat(steps, []Point{{steps[len(steps)-1].X, p.inner.bottom}, {steps[0].X, p.inner.bottom}})
	p.area(Path{Points: under, Closed: true, Fill: Wash})
	p.data(steps, strong)
}

func (c *Completion) describe(r Reader) []string {
	if len(c.Points) == 0 {
		return []string{r.say("completion.none", nil)}
	}
	last := c.Points[len(c.Points)-1]
	share := 0.0
	if c.Total > 0 {
		share = math.Floor(100 * float64(last.Done) / float64(c.Total))
	}
	says := []string{r.counted("completion.says", c.Total, facts{
		"done": r.count(last.Done), "total": r.count(c.Total), "share": r.number(share, 0), "date": r.date(later(last.On, c.Today)),
	})}
	for _, l := range c.Letters {
		says = append(says, r.say("completion.letter", facts{"date": r.date(l.On), "name": l.Name}))
	}
	return says
}

// table has each day on which something changed or letters went out.
func (c *Completion) table(r Reader) Table {
	t := Table{Caption: r.say("completion.title", facts{"name": c.Name}), Heads: []string{
		r.say("head.date", nil), r.say("completion.done", nil), r.say("completion.left", nil), r.say("head.what", nil),
	}}
	type dated struct {
		on  vehicle.Date
		row []string
	}
	var rows []dated
	for _, l := range c.Letters {
		what := l.Name
		if l.Sent > 0 {
			what = r.say("completion.sent", facts{"name": l.Name, "n": r.count(l.Sent)})
		}
		rows = append(rows, dated{l.On, []string{r.date(l.On), "", "", what}})
	}
	for _, p := range c.Points {
		rows = append(rows, dated{p.On, []string{r.date(p.On), r.count(p.Done), r.count(max(0, c.Total-p.Done)), ""}})
	}
	slices.SortStableFunc(rows, func(a, b dated) int { return a.on.Compare(b.on) })
	for _, row := range rows {
		t.Rows = append(t.Rows, row.row)
	}
	return t
}
