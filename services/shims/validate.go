package shims

import (
	"fmt"
	"math/big"
	"strconv"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// The bounds within which numbers are taken for what they say they are.
var (
	mostLength = number("100")             // mm, of a float, a shim and a fitted pack
	mostLoad   = number("1000000")         // in the unit of the measurement
	leastSlope = number("0.000001")        // of that unit to the millimetre
	mostSlope  = mostLoad                  // likewise
	perTick    = number("0.0000000000001") // mm
)

const mostHeld = 100 // shims in a fitted pack

// reader turns a problem into numbers, and keeps what is wrong with it.
type reader struct {
	p      *Problem
	m      model
	fields []fault.Field
}

// read checks all of a problem before it answers.
func (p *Problem) read() (*model, error) {
	r := &reader{p: p}
	if r.measured() {
		r.window()
		r.slope()
	}
	r.must(p.Design.valid(), "design", chosen(int(p.Design)), "whether more shim adds float or takes it up")
	r.must(p.Rule.valid(), "rule", chosen(int(p.Rule)), "fewest then nearest, or nearest then fewest")
	r.must(p.Joint.valid(), "joint", chosen(int(p.Joint)), "one of the joints")
	r.must(p.LargestCount >= 1 && p.LargestCount <= MaxCount, "largest_count", strconv.Itoa(p.LargestCount), "1 to 12 shims")
	r.sizes()
	r.fitted()
	if err := fault.InvalidFields(r.fields); err != nil {
		return nil, err
	}
	r.m.finish(p)
	return &r.m, nil
}

func (r *reader) must(ok bool, name, got, want string) bool {
	if !ok {
		r.fields = append(r.fields, fault.Field{Name: name, Got: got, Want: want})
	}
	return ok
}

// chosen prints the number of an enumeration; 0 is nothing.
func chosen(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// got prints a quantity that may be none.
func got(q vehicle.Quantity) string {
	if q == (vehicle.Quantity{}) {
		return ""
	}
	return q.String()
}

// quantity reads one that must be of a dimension: its value in mm, N or N·m.
func (r *reader) quantity(q vehicle.Quantity, of dimension, name, want string) (*big.Rat, bool) {
	u, ok := unitOf(q.Unit)
	if !r.must(ok && u.dimension == of && isWritten(q.Value), name, got(q), want) {
		return nil, false
	}
	v := new(big.Rat).Mul(fraction(q.Value), u.per)
	most := mostLength
	if of != length {
		most = new(big.Rat).Mul(mostLoad, u.per)
	}
	large := new(big.Rat).Abs(v).Cmp(most) > 0
	if of == length {
		return v, r.must(!large, name, got(q), "no more than 100 mm")
	}
	return v, r.must(!large, name, got(q), "no more than 1000000")
}

func (r *reader) measured() bool {
	q := r.p.Measured
	u, ok := unitOf(q.Unit)
	if !r.must(ok && isWritten(q.Value), "measured", got(q), "a length or a load with its unit, as in 0.10 mm or 6.5 kgf") {
		return false
	}
	r.m.unit = u
	if r.m.measured, ok = r.quantity(q, u.dimension, "measured", ""); !ok {
		return false
	}
	r.must(u.dimension == length || q.Value.Sign() > 0, "measured", got(q),
		"more than nothing: where it turns freely there is float, and that is to be measured")
	return true
}

// window reads the window and the target in the dimension of the measurement.
func (r *reader) window() {
	of, want := r.m.unit.dimension, wantLength
	if of != length {
		want = "a load of the same kind as the measured one"
	}
	lower, okLower := r.quantity(r.p.Lower, of, "lower", want)
	upper, okUpper := r.quantity(r.p.Upper, of, "upper", want)
	if okLower && of != length {
		okLower = r.must(lower.Sign() >= 0, "lower", got(r.p.Lower), "0 or more: a load below nothing is float")
	}
	if okLower && okUpper {
		okUpper = r.must(lower.Cmp(upper) <= 0, "upper", got(r.p.Upper), "no less than lower, "+got(r.p.Lower))
	}
	r.m.lower, r.m.upper = lower, upper
	if r.p.Target == (vehicle.Quantity{}) {
		if okLower && okUpper {
			r.m.target = new(big.Rat).Mul(new(big.Rat).Add(lower, upper), big.NewRat(1, 2))
		}
		return
	}
	target, ok := r.quantity(r.p.Target, of, "target", want)
	if ok && okLower && okUpper {
		r.must(target.Cmp(lower) >= 0 && target.Cmp(upper) <= 0, "target", got(r.p.Target),
			"a value in the window, "+got(r.p.Lower)+" to "+got(r.p.Upper))
	}
	r.m.target = target
}

// slope reads what a millimetre of shim adds to the measured value.
func (r *reader) slope() {
	q, of := r.p.Slope, r.m.unit.dimension
	r.m.gain = big.NewRat(1, 1)
	if of != length {
		load, per, ok := slopeUnits(q.Unit)
		if !r.must(ok && load.dimension == of && isWritten(q.Value), "slope", got(q), wantSlope+", of the kind that was measured") {
			return
		}
		each := new(big.Rat).Quo(load.per, per.per)
		r.m.gain.Neg(each.Mul(each, fraction(q.Value)))
		slope := new(big.Rat).Quo(each, r.m.unit.per)
		r.must(slope.Cmp(leastSlope) >= 0 && slope.Cmp(mostSlope) <= 0, "slope", got(q),
			"more than nothing, and a load that a spring balance shows: the design says which way it goes")
	} else {
		r.must(q == vehicle.Quantity{}, "slope", got(q), "nothing: a slope belongs to a load, and this is a float")
	}
	if r.p.Design == TakesUpFloat {
		r.m.gain.Neg(r.m.gain)
	}
}

// thickness reads that of a shim.
func (r *reader) thickness(q vehicle.Quantity, name string) (*big.Rat, bool) {
	t, ok := r.quantity(q, length, name, wantLength)
	return t, ok && r.must(t.Sign() > 0, name, got(q), "more than nothing")
}

func (r *reader) sizes() {
	n := len(r.p.Sizes)
	if !r.must(n > 0 && n <= MaxSizes, "sizes", fmt.Sprintf("%d sizes", n), "1 to 20 sizes") {
		return
	}
	for i, s := range r.p.Sizes {
		at := fmt.Sprintf("sizes[%d]", i)
		stock := MaxCount
		if !s.Unlimited {
			r.must(s.Stock >= 0, at+".stock", strconv.Itoa(s.Stock), "0 or more, or unlimited")
			stock = min(s.Stock, MaxCount)
		}
		t, ok := r.thickness(s.Thickness, at+".thickness")
		if !ok {
			continue
		}
		if r.must(r.m.find(t) < 0, at+".thickness", got(s.Thickness), "a thickness that is not in the list yet") {
			r.m.add(t, size{thickness: s.Thickness, part: s.Part, stock: stock, listed: true})
		}
	}
}

func (r *reader) fitted() {
	f := r.p.Fitted
	r.m.fitted = new(big.Rat)
	given := f.Total != vehicle.Quantity{}
	if !r.must(given != (len(f.Shims) > 0), "fitted", fittedText(given, f), "either the total of the pack, as in 0.76 mm, or its shims") {
		return
	}
	r.must(!r.p.ReuseFitted || !given, "reuse_fitted", "only the total of the fitted pack", "its shims, so that they can be used again")
	if given {
		if t, ok := r.quantity(f.Total, length, "fitted.total", wantLength); ok {
			r.must(t.Sign() >= 0, "fitted.total", got(f.Total), "0 or more")
			r.m.fitted = t
		}
		return
	}
	r.must(len(f.Shims) <= mostHeld, "fitted.shims", fmt.Sprintf("%d shims", len(f.Shims)), "at most 100")
	for i, h := range f.Shims[:min(len(f.Shims), mostHeld)] {
		at := fmt.Sprintf("fitted.shims[%d]", i)
		ok := r.must(h.Count >= 1 && h.Count <= mostHeld, at+".count", strconv.Itoa(h.Count), "1 to 100")
		if t, fine := r.thickness(h.Thickness, at+".thickness"); fine && ok {
			r.m.hold(t, h, r.p.ReuseFitted)
		}
	}
	r.must(r.m.fitted.Cmp(mostLength) <= 0, "fitted.shims", "a pack of more than 100 mm", "no more than 100 mm")
	if n := len(r.m.sizes); n > len(r.p.Sizes) {
		r.must(n <= MaxSizes, "fitted.shims", fmt.Sprintf("%d sizes with those to choose from", n), "at most 20 together")
	}
}

func fittedText(total bool, f Fitted) string {
	if total {
		return fmt.Sprintf("%s and %d shims", f.Total, len(f.Shims))
	}
	return ""
}
