package jobsheet

import (
	"fmt"
	"math/big"

	"halfshaft/services/schedule/trend"
	"halfshaft/services/vehicle"
)

// mostTrials is for how many values beyond the window a pack is looked up: the
// mechanic who measures one of them, or one between two, has the pack to begin
// with on the sheet.
const mostTrials = 3

// Trial is a value that may be measured at a setting with shims.
type Trial struct {
	Measured vehicle.Quantity
	Last     bool
}

// Trials gives the values for which a pack is to be looked up: the last one where
// it is outside its window, and some beyond its upper end, half the window apart,
// for play grows with wear. None where the pack that is in is on no record.
func (j *Job) Trials(s *Shims) []Trial {
	if s.Pack.Unit == "" {
		return nil
	}
	for i := range j.Values {
		v := &j.Values[i]
		if v.Limit.Characteristic != s.Characteristic || v.Position != "" && v.Position != s.Position {
			continue
		}
		var out []Trial
		if len(v.Last) > 0 && !v.Renewed && trend.Hold(&v.Limit, v.Last[0].Value).Verdict > trend.Within {
			out = append(out, Trial{v.Last[0].Value, true})
		}
		return append(out, v.beyond(out)...)
	}
	return nil
}

// Setting gives the shims that set a value, and the value to look a pack up for;
// false where the value is within its window, or set without shims, or the pack
// that is in is on no record.
func (j *Job) Setting(v *Value, measured vehicle.Quantity) (*Shims, bool) {
	if !vehicle.Convertible(measured.Unit, v.Limit.Unit) || trend.Hold(&v.Limit, measured).Verdict == trend.Within {
		return nil, false
	}
	for i := range j.Shims {
		s := &j.Shims[i]
		if s.Pack.Unit != "" && v.Limit.Characteristic == s.Characteristic && (v.Position == "" || v.Position == s.Position) {
			return s, true
		}
	}
	return nil, false
}

// Advice says which pack to fit.
func (c *Choice) Advice() string {
	if c.PackText == "" {
		return "No pack of shims puts it right: " + c.Sentence
	}
	return fmt.Sprintf("Shims that put it right: %s, %s thick, which leaves %s.", c.PackText, c.Pack, c.Result)
}

// beyond gives values beyond the upper end of a window, but for those there are.
func (v *Value) beyond(there []Trial) (out []Trial) {
	if v.Limit.Lower == nil || v.Limit.Upper == nil {
		return nil
	}
	low, high := v.Limit.Lower.Rat(), v.Limit.Upper.Rat()
	step := high.Sub(high, low)
	step.Quo(step, big.NewRat(2, 1))
	at := v.Limit.Upper.Rat()
	for range mostTrials {
		at.Add(at, step)
		q, ok := exactly(at, v.Limit.Unit, int(v.Limit.Upper.Scale))
		if ok && (len(there) == 0 || q.Value.Cmp(there[0].Measured.Value) != 0) {
			out = append(out, Trial{Measured: q})
		}
	}
	return out
}
