package schedule

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// ShimWork is one change of a pack of shims, as it is kept in a service entry.
// The zero quantity stands for what nobody measured.
type ShimWork struct {
	Position       string // "output-shaft-bearing"
	Characteristic string // "end-float"
	Before         vehicle.Quantity
	PackBefore     vehicle.Quantity
	Shims          []ShimUsed // those that are in now; none where only the pack was measured
	Pack           vehicle.Quantity
	After          vehicle.Quantity
}

// ShimUsed is a shim of a pack and how many of it.
type ShimUsed struct {
	Thickness vehicle.Quantity
	Count     int
	Part      string // "" when not known
}

// What a pack is within: more is a slip of the pen.
const (
	mostShimLines = 20
	mostOneShim   = 100 // pieces of one thickness
	mostPack      = 100 // mm
	maxShimWord   = 80  // bytes of a position, a characteristic or a part number
)

// Sum is what the shims make together, in the unit of the pack where it has
// one, else in that of the first shim. It is false where there are no shims,
// their thicknesses have no common unit, or no decimal of nine digits after the
// point writes the sum.
func (w *ShimWork) Sum() (vehicle.Quantity, bool) {
	unit := w.Pack.Unit
	if unit == "" && len(w.Shims) > 0 {
		unit = w.Shims[0].Thickness.Unit
	}
	sum, ok := w.total(unit)
	if !ok {
		return vehicle.Quantity{}, false
	}
	digits, exact := sum.FloatPrec()
	if !exact || digits > vehicle.MaxScale {
		return vehicle.Quantity{}, false
	}
	scale := digits
	for _, s := range w.Shims {
		if s.Thickness.Unit == unit {
			scale = max(scale, int(s.Thickness.Value.Scale))
		}
	}
	value, err := vehicle.ParseDecimal(sum.FloatString(scale))
	return vehicle.Quantity{Value: value, Unit: unit}, err == nil
}

// total is the sum of the shims in a unit.
func (w *ShimWork) total(unit string) (*big.Rat, bool) {
	sum := new(big.Rat)
	for _, s := range w.Shims {
		each, ok := s.Thickness.In(unit)
		if !ok {
			return nil, false
		}
		sum.Add(sum, each.Mul(each, big.NewRat(int64(s.Count), 1)))
	}
	return sum, len(w.Shims) > 0
}

// Validate lists everything that is wrong with shim work by itself. Whether the
// vehicle has the position is for whoever knows the vehicle.
func (w *ShimWork) Validate() []fault.Field {
	var c shimCheck
	c.word("position", w.Position, "a position, as in output-shaft-bearing")
	c.word("characteristic", w.Characteristic, "what was set, as in end-float")
	c.measured(w)
	c.length("pack_before", w.PackBefore, 0)
	c.shims(w)
	c.pack(w)
	return c.wrong
}

// shimCheck collects what is wrong.
type shimCheck struct{ wrong []fault.Field }

func (c *shimCheck) must(ok bool, name, got, want string) bool {
	if !ok {
		c.wrong = append(c.wrong, fault.Field{Name: name, Got: got, Want: want})
	}
	return ok
}

func (c *shimCheck) word(name, text, want string) {
	ok := text != "" && len(text) <= maxShimWord && !strings.HasPrefix(text, "-") && !strings.HasSuffix(text, "-") && !strings.Contains(text, "--")
	for _, r := range text {
		ok = ok && (r == '-' || r >= 'a' && r <= 'z' || r >= '0' && r <= '9')
	}
	c.must(ok, name, text, want)
}

// kinds are what is set with shims; a value converts into one of them.
var kinds = []string{"mm", "N", "N·m"}

// measured checks what was measured before and after: of one kind, and a load
// more than nothing, because a joint that turns freely has float.
func (c *shimCheck) measured(w *ShimWork) {
	for _, m := range []struct {
		name string
		q    vehicle.Quantity
	}{{"measured_before", w.Before}, {"measured_after", w.After}} {
		if m.q == (vehicle.Quantity{}) {
			continue
		}
		known := false
		for i, unit := range kinds {
			if vehicle.Convertible(m.q.Unit, unit) {
				known = true
				c.must(i == 0 || m.q.Value.Sign() >= 0, m.name, m.q.String(), "0 or more: a load below nothing is float")
			}
		}
		c.must(known, m.name, m.q.String(), "a length or a load with its unit, as in 0.10 mm or 6.5 kgf")
	}
	if w.Before.Unit != "" && w.After.Unit != "" {
		c.must(vehicle.Convertible(w.Before.Unit, w.After.Unit), "measured_after", w.After.String(),
			"a value that can be held against the one before, "+w.Before.String())
	}
}

// length checks a thickness; the zero quantity is one that was not given.
func (c *shimCheck) length(name string, q vehicle.Quantity, least int) bool {
	if q == (vehicle.Quantity{}) {
		return false
	}
	in, ok := q.In("mm")
	if !c.must(ok && vehicle.Convertible(q.Unit, "mm"), name, q.String(), "a thickness with its unit, as in 0.76 mm or 30 thou") {
		return false
	}
	return c.must(in.Sign() >= least && in.Cmp(big.NewRat(mostPack, 1)) <= 0, name, q.String(),
		map[bool]string{true: "more than nothing, and at most 100 mm", false: "0 to 100 mm"}[least > 0])
}

func (c *shimCheck) shims(w *ShimWork) {
	c.must(len(w.Shims) <= mostShimLines, "shims", fmt.Sprintf("%d lines", len(w.Shims)), "at most 20")
	for i, s := range w.Shims {
		at := fmt.Sprintf("shims[%d]", i)
		if s.Thickness == (vehicle.Quantity{}) {
			c.must(false, at+".thickness", "", "how thick, as in 0.25 mm")
		} else {
			c.length(at+".thickness", s.Thickness, 1)
		}
		c.must(s.Count >= 1 && s.Count <= mostOneShim, at+".count", strconv.Itoa(s.Count), "1 to 100")
		c.must(len(s.Part) <= maxShimWord && !strings.ContainsAny(s.Part, " \t\r\n/"), at+".part", s.Part, "a part number of the works")
	}
}

// pack checks what is in now against the shims that it is said to be made of.
func (c *shimCheck) pack(w *ShimWork) {
	if !c.must(len(w.Shims) > 0 || w.Pack != (vehicle.Quantity{}), "shims", "", "the shims that are in now, or in pack how thick they are together: 0 mm for none") {
		return
	}
	if c.length("pack", w.Pack, 0) && len(c.wrong) == 0 {
		sum, ok := w.total(w.Pack.Unit)
		if ok && sum.Cmp(w.Pack.Value.Rat()) != 0 {
			digits, _ := sum.FloatPrec()
			c.must(false, "pack", w.Pack.String(), "the sum of the shims, "+sum.FloatString(min(digits, vehicle.MaxScale))+" "+w.Pack.Unit)
		}
	}
}
