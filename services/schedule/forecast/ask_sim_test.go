package forecast_test

import (
	"math"
	"math/rand/v2"

	"halfshaft/services/schedule/forecast"
)

// This file plays the life of one item through for many owners: notices go out,
// owners come or are late, and readings are asked for by one rule or another.

// rule says whether to ask an owner on a day.
type rule func(q forecast.Question, u *forecast.Usage, cal *forecast.Calendar) bool

func askNobody(forecast.Question, *forecast.Usage, *forecast.Calendar) bool { return false }

func askQuarterly(q forecast.Question, _ *forecast.Usage, _ *forecast.Calendar) bool {
	return q.Today-q.LastAsked >= 91
}

func askWhenWorth(how forecast.Asking) rule {
	return func(q forecast.Question, u *forecast.Usage, cal *forecast.Calendar) bool {
		ask, _ := how.WorthAsking(q, u, cal)
		return ask
	}
}

// The item and its owners' ways (common practice, no source).
const (
	itemMiles  = 3_000
	itemDays   = 365
	noticeDays = 28
	answering  = 0.65    // share of requests that are answered, within a fortnight
	followed   = 8 * 365 // days of each life
	early      = 60      // days before its time from which a notice is a wrong one
)

// outcome counts what happened over many vehicle-years.
type outcome struct {
	years                 float64
	asked, answered       int
	notices               int
	late, lateDays, wrong int // after the true due day; much too early
	byDistance            int // notices of rounds in which distance came first in truth
}

// play follows one owner under a rule.
func (f fleet) play(o *owner, ask rule, out *outcome) {
	dice := rand.New(rand.NewPCG(uint64(o.delivered), 0xa5c)) // the same answers and delays under each rule
	points := []forecast.Point{{Day: o.delivered}}
	anchor, anchorMiles := o.delivered, 0.0
	asked := o.delivered
	answer, came := forecast.Never, forecast.Never // days on which an answer and the vehicle come
	noticed := false
	var u forecast.Usage
	var cal forecast.Calendar
	stale := true
	for today := o.delivered + 7; today < o.delivered+followed; today += 7 {
		if today >= answer {
			points, answer, stale = counted(points, today, o.read(today)), forecast.Never, true
			out.answered++
		}
		if today >= came {
			points, stale = counted(points, today, math.Floor(o.on(today))), true
			anchor, anchorMiles, came, noticed = today, o.on(today), forecast.Never, false
		}
		if stale {
			cal = f.calendar(o, points)
			forecast.Estimate(&u, points, &cal, f.prior, today)
			stale = false
		}
		last := points[len(points)-1]
		q := forecast.Question{
			Today: today, TimeDue: anchor + itemDays, Notice: noticeDays, LastReading: last.Day, LastAsked: asked,
			Way: anchorMiles*mile + itemMiles*mile - float64(last.Distance),
		}
		if noticed {
			continue
		}
		_, middle, _ := u.Reach(q.Way)
		due := min(q.TimeDue, cal.After(last.Day, middle))
		if today >= due-noticeDays {
			out.notice(o, today, anchor, anchorMiles)
			noticed, came = true, today+int32(5+dice.IntN(45))
			continue
		}
		if ask(q, &u, &cal) {
			out.asked++
			asked = today
			if dice.Float64() < answering {
				answer = today + int32(1+dice.IntN(14))
			}
		}
	}
	out.years += followed / 365.25
}

// notice judges one against the truth.
func (out *outcome) notice(o *owner, today, anchor int32, anchorMiles float64) {
	byDistance := o.reached(anchorMiles + itemMiles)
	truth := min(anchor+itemDays, byDistance)
	out.notices++
	if byDistance < anchor+itemDays {
		out.byDistance++
	}
	switch {
	case today > truth:
		out.late++
		out.lateDays += int(today - truth)
	case today < truth-noticeDays-early:
		out.wrong++
	}
}
