package shims

import (
	"strconv"
	"strings"

	"halfshaft/services/vehicle"
)

// Verdict is what to do.
type Verdict int

// The verdicts. The zero value is the refusal.
const (
	NoPack  Verdict = iota // none of the packs comes into the window: see Misses, Reliefs and LookFor
	LeaveIt                // the fitted pack is in the window; Packs is for a joint that is open anyway
	FitPack                // fit one of Packs
)

func (v Verdict) String() string {
	switch v {
	case NoPack:
		return "NO_PACK"
	case LeaveIt:
		return "LEAVE_IT"
	case FitPack:
		return "FIT_PACK"
	}
	return strconv.Itoa(int(v))
}

// Result is the answer. Values are in the unit of the measurement; packs in
// that of the shims, or in mm where these differ.
type Result struct {
	Verdict Verdict
	Needed  Amount // P*, the pack that would bring it to the target; may be less than nothing
	Target  Amount
	Fitted  Pack // Shims is empty when only its total is known

	Packs   []Pack // all that are best, with the thickest shims first; the first MaxPacks of them
	Optimal int64  // how many are best

	// Nearer is a pack of one or two shims more that comes clearly nearer to the
	// target, where the fewest shims leave the joint near an end of its window;
	// nil where there is none, and by the rule that looks for the nearest.
	Nearer *Pack

	// Misses are the packs next to the window where none is in it, the nearest
	// first: one on each side at most.
	Misses  []Miss
	Reliefs []Relief // what would help then: none where the sizes themselves stand in the way

	// Worthwhile says, of a fitted pack that is in the window, that the best pack
	// comes nearer to the target by more than a step of the measurement.
	Worthwhile bool

	Reasons  []vehicle.Reason // in the order in which they are read out
	LookFor  []vehicle.Reason // before anything is fitted or ordered
	Cautions []vehicle.Reason
}

// Pack is some shims and what they give.
type Pack struct {
	Shims []Use // the thinnest first
	Count int
	Total Amount
	Gives Amount // the float, or the load
	Off   Amount // how far that is from the target, never negative
}

// Use is how often a pack has one size.
type Use struct {
	Thickness  vehicle.Quantity
	Part       string
	Count      int
	FromFitted int // of them, those that the fitted pack has; 0 unless they may be used again
	Short      int // of them, those that are not to be had; 0 but in a Relief
}

// Miss is a pack outside the window.
type Miss struct {
	Pack
	Above bool   // it gives more than the window allows, not less
	By    Amount // how far outside; more than 0
}

// Relief is a pack that comes into the window when a limit is lifted.
type Relief struct {
	Stock, Count bool // which
	Pack         Pack // with one of the largest counts up to MaxCount, by the rule of the problem
}

// String writes "2 × 0.08 mm + 0.51 mm".
func (p Pack) String() string {
	var parts []string
	for _, u := range p.Shims {
		text := u.Thickness.String()
		if u.Count > 1 {
			text = strconv.Itoa(u.Count) + " × " + text
		}
		parts = append(parts, text)
	}
	if len(parts) == 0 {
		return p.Total.String()
	}
	return strings.Join(parts, " + ")
}
