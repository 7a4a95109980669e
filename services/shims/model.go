package shims

import (
	"cmp"
	"math/big"
	"slices"

	"halfshaft/services/vehicle"
)

// size is a shim to choose, in the order of a model: the thickest first.
type size struct {
	thickness vehicle.Quantity
	part      string
	ticks     int64
	stock     int  // pieces that can be had, those of the fitted pack included
	held      int  // of them in the fitted pack
	listed    bool // among the sizes to choose from, not in the fitted pack alone
}

// model is a problem in numbers: mm, and mm, N or N·m for what is measured.
type model struct {
	unit                           unit // of the measurement
	measured, lower, upper, target *big.Rat
	gain                           *big.Rat // what a millimetre of shim adds to what is measured
	fitted                         *big.Rat
	sizes                          []size
	value, pack                    gauge
	needed                         *big.Rat // P*, in mm
	low, high                      int64    // ticks of the thinnest and the thickest total in the window
	pivot                          int64    // ticks of P*, rounded down
	twiceNeeded, twiceNeededUp     int64    // ticks of 2 P*, rounded down and up
}

// find gives the index of a thickness among the sizes, -1 when it is not there.
func (m *model) find(t *big.Rat) int {
	ticks := wholeTicks(t)
	return slices.IndexFunc(m.sizes, func(s size) bool { return s.ticks == ticks })
}

func (m *model) add(t *big.Rat, s size) {
	s.ticks = wholeTicks(t)
	m.sizes = append(m.sizes, s)
}

// hold adds shims to the fitted pack and, where they may be used again, to what
// can be had.
func (m *model) hold(t *big.Rat, h Held, reuse bool) {
	m.fitted.Add(m.fitted, new(big.Rat).Mul(t, big.NewRat(int64(h.Count), 1)))
	if !reuse {
		return
	}
	at := m.find(t)
	if at < 0 {
		at = len(m.sizes)
		m.add(t, size{thickness: h.Thickness, part: h.Part})
	}
	s := &m.sizes[at]
	s.stock = min(s.stock+h.Count, MaxCount)
	s.held = min(s.held+h.Count, MaxCount)
}

// finish works out what the checked numbers come to.
func (m *model) finish(p *Problem) {
	slices.SortFunc(m.sizes, func(a, b size) int { return cmp.Compare(b.ticks, a.ticks) })
	m.value = gauge{
		unit: p.Measured.Unit, per: m.unit.per, round: m.unit.digits,
		scale: max(p.Measured.Value.Scale, sameScale(p.Lower, p.Measured), sameScale(p.Upper, p.Measured)),
	}
	m.pack = packGauge(p)
	m.needed = m.packFor(m.target)
	low, high := m.packFor(m.lower), m.packFor(m.upper)
	if m.gain.Sign() < 0 {
		low, high = high, low
	}
	m.low, m.high = ticks(ceiling(inTicks(low))), ticks(floor(inTicks(high)))
	needed := inTicks(m.needed)
	m.pivot = ticks(floor(needed))
	needed.Add(needed, needed)
	m.twiceNeeded, m.twiceNeededUp = ticks(floor(needed)), ticks(ceiling(needed))
}

// sameScale is the scale of q, 0 when its unit is not that of other.
func sameScale(q, other vehicle.Quantity) uint8 {
	if q.Unit != other.Unit {
		return 0
	}
	return q.Value.Scale
}

// packGauge gives the unit in which packs are told: that of all thicknesses,
// and where they differ millimetres, in which each of them is exact.
func packGauge(p *Problem) gauge {
	var all []vehicle.Quantity
	if p.Fitted.Total != (vehicle.Quantity{}) {
		all = append(all, p.Fitted.Total)
	}
	for _, h := range p.Fitted.Shims {
		all = append(all, h.Thickness)
	}
	for _, s := range p.Sizes {
		all = append(all, s.Thickness)
	}
	u, _ := unitOf(all[0].Unit)
	g := gauge{unit: all[0].Unit, per: u.per, round: u.digits}
	for _, q := range all {
		if other, _ := unitOf(q.Unit); other.per.Cmp(u.per) != 0 {
			mm := units["mm"]
			return gauge{unit: "mm", per: mm.per, round: mm.digits}
		}
		g.scale = max(g.scale, q.Value.Scale)
	}
	return g
}

// packFor is the pack, in mm, that would give a value.
func (m *model) packFor(value *big.Rat) *big.Rat {
	more := new(big.Rat).Sub(value, m.measured)
	return more.Add(more.Quo(more, m.gain), m.fitted)
}

// valueOf is what a total would give.
func (m *model) valueOf(total int64) *big.Rat {
	more := new(big.Rat).Sub(thicknessOf(total), m.fitted)
	return more.Add(more.Mul(more, m.gain), m.measured)
}

// off is how far a value is from the target.
func (m *model) off(value *big.Rat) *big.Rat {
	d := new(big.Rat).Sub(value, m.target)
	return d.Abs(d)
}

// fits says whether a total comes into the window.
func (m *model) fits(total int64) bool { return total >= m.low && total <= m.high }

// nearer compares two totals by how far they are from P*: -1 when a is nearer.
func (m *model) nearer(a, b int64) int {
	switch aBelow, bBelow := a <= m.pivot, b <= m.pivot; {
	case aBelow && bBelow:
		return cmp.Compare(b, a)
	case !aBelow && !bBelow:
		return cmp.Compare(a, b)
	case bBelow:
		return -m.nearer(b, a)
	}
	// P* lies between them, and a is nearer when the middle of the two is beyond it.
	switch sum := a + b; {
	case sum > m.twiceNeeded:
		return -1
	case sum < m.twiceNeededUp:
		return 1
	}
	return 0
}

// mostTicks bounds a window that a small slope makes wider than any pack: two
// of them can be added, and no pack comes near.
const mostTicks = 1 << 61

func ticks(n *big.Int) int64 {
	switch most := big.NewInt(mostTicks); {
	case n.CmpAbs(most) <= 0:
		return n.Int64()
	case n.Sign() < 0:
		return -mostTicks
	}
	return mostTicks
}

func inTicks(mm *big.Rat) *big.Rat { return new(big.Rat).Quo(mm, perTick) }

// wholeTicks is a thickness as written, which is whole in ticks.
func wholeTicks(mm *big.Rat) int64 { return ticks(floor(inTicks(mm))) }

func thicknessOf(ticks int64) *big.Rat {
	return new(big.Rat).Mul(new(big.Rat).SetInt64(ticks), perTick)
}
