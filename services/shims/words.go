package shims

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"

	"halfshaft/services/vehicle"
)

// teller puts a result into words.
type teller struct {
	p     *Problem
	m     *model
	r     *Result
	gives *big.Rat // what the best pack gives; nil without one
	gain  *big.Rat // how much nearer to the target it comes than the fitted
}

func (t teller) tell() {
	t.say("MEASURED", t.measured(), fact("measured", t.p.Measured.String()), fact("fitted_pack", t.r.Fitted.Total.String()),
		fact("lower", t.p.Lower.String()), fact("upper", t.p.Upper.String()), fact("target", t.r.Target.String()))
	t.say("NEEDED", t.needed(), fact("needed", t.r.Needed.String()))
	if t.r.Verdict == LeaveIt {
		t.leave()
	}
	if len(t.r.Packs) > 0 {
		t.packs()
	} else {
		t.none()
	}
	if t.r.Verdict == NoPack || t.m.place(t.p.LargestCount) != among && t.r.Verdict == FitPack {
		t.r.LookFor = t.lookFor()
	}
	t.r.Cautions = t.cautions()
}

func (t teller) say(rule, sentence string, facts ...vehicle.Fact) {
	t.r.Reasons = append(t.r.Reasons, vehicle.Reason{Rule: rule, Facts: facts, Sentence: sentence})
}

func fact(name, value string) vehicle.Fact { return vehicle.Fact{Name: name, Value: value} }

// isFloat says whether a float was measured, not a load.
func (t teller) isFloat() bool { return t.m.unit.dimension == length }

// noun is what was measured, at the beginning of a sentence.
func (t teller) noun() string {
	if t.isFloat() {
		return "End float"
	}
	return "Turning load"
}

func (t teller) measured() string {
	with := "with a pack of " + t.r.Fitted.Total.String()
	if t.m.fitted.Sign() == 0 {
		with = "without shims"
	}
	value := t.p.Measured.String()
	if t.m.measured.Sign() < 0 {
		value += ", which is preload,"
	}
	return fmt.Sprintf("%s: %s was measured %s; %s is asked for, best %s.",
		t.noun(), value, with, limits(t.p.Lower, t.p.Upper), t.r.Target)
}

func (t teller) needed() string {
	verb := "more shim gives more float"
	if t.p.Design == TakesUpFloat {
		verb = "more shim takes float up"
	}
	if !t.isFloat() {
		verb = "more shim gives less preload"
		if t.p.Design == TakesUpFloat {
			verb = "more shim gives more preload"
		}
		verb += ", " + t.p.Slope.String() + " by the release"
	}
	if t.m.needed.Sign() < 0 {
		less := t.m.pack.amount(new(big.Rat).Neg(t.m.needed))
		return fmt.Sprintf("In this design %s, so the target asks for %s less than no shim at all.", verb, less)
	}
	return fmt.Sprintf("In this design %s, so %s of shims would bring it to the target.", verb, t.r.Needed)
}

func (t teller) packs() {
	first := t.r.Packs[0]
	given := fmt.Sprintf("%s gives %s, %s", made(first), first.Gives, t.fromTarget(first.Off))
	var why string
	switch {
	case t.p.Rule == NearestThenFewest:
		why = fmt.Sprintf("Of the packs of up to %s none comes nearer to the target, nor as near with fewer shims: %s.",
			shims(t.p.LargestCount), given)
	case first.Count == 1:
		why = fmt.Sprintf("A single shim brings it into the window, and none comes nearer to the target: %s.", given)
	default:
		why = fmt.Sprintf("No fewer than %s bring it into the window, and of these packs none comes nearer to the target: %s.",
			shims(first.Count), given)
	}
	t.say(t.p.Rule.String(), why, fact("pack", first.String()), fact("count", strconv.Itoa(first.Count)),
		fact("total", first.Total.String()), fact("gives", first.Gives.String()), fact("off_target", first.Off.String()))
	if t.r.Optimal > 1 {
		text := fmt.Sprintf("%d packs are equally good.", t.r.Optimal)
		if shown := int64(len(t.r.Packs)); shown < t.r.Optimal {
			text = fmt.Sprintf("%d packs are equally good; %d of them are given.", t.r.Optimal, shown)
		}
		t.say("EQUALLY_GOOD", text, fact("packs", strconv.FormatInt(t.r.Optimal, 10)))
	}
	if t.r.Nearer != nil {
		t.nearer()
	}
}

// made writes a pack and, of several shims, what it makes.
func made(p Pack) string {
	if p.Count == 1 {
		return p.String()
	}
	return p.String() + " makes " + p.Total.String() + " and"
}

// fromTarget says how far something is from the target.
func (t teller) fromTarget(off Amount) string {
	if off.Value.Sign() == 0 && !off.Rounded {
		return "the target itself"
	}
	return off.String() + " from the target"
}

func shims(n int) string {
	if n == 1 {
		return "1 shim"
	}
	return strconv.Itoa(n) + " shims"
}

// leave says that the fitted pack may stay, and whether another were better.
func (t teller) leave() {
	text := fmt.Sprintf("Leave it: the fitted pack is in the window, %s.", t.fromTarget(t.r.Fitted.Off))
	switch {
	case t.gain == nil || t.gain.Sign() <= 0:
		text += " No better pack can be made of these shims by this rule."
	case t.r.Worthwhile:
		text += fmt.Sprintf(" The best pack would come %s nearer: worth fitting when the joint is open anyway, but no reason to open it.",
			t.m.value.amount(t.gain))
	default:
		text += fmt.Sprintf(" The best pack would come %s nearer, no more than the smallest step of the reading: not worth a change.",
			t.m.value.amount(t.gain))
	}
	t.say("LEAVE_IT", text, fact("off_target", t.r.Fitted.Off.String()))
	if edge := t.edge(); edge != "" {
		t.say("NEAR_A_LIMIT", fmt.Sprintf("The reading is within half a step of its last digit from the %s limit: measure again before it is left.", edge),
			fact("limit", edge))
	}
}

// edge names the limit that the true value may be beyond, by the resolution of
// the reading; "" for none.
func (t teller) edge() string {
	half := t.m.step(t.p)
	half.Mul(half, big.NewRat(1, 2))
	switch {
	case new(big.Rat).Sub(t.m.measured, t.m.lower).Cmp(half) < 0:
		return "lower"
	case new(big.Rat).Sub(t.m.upper, t.m.measured).Cmp(half) < 0:
		return "upper"
	}
	return ""
}

// none says that no pack fits, what comes nearest, and which limit it is.
func (t teller) none() {
	t.say("NO_PACK", fmt.Sprintf("No pack of up to %s from these sizes and their stock comes into the window.", shims(t.p.LargestCount)))
	if len(t.r.Misses) == 0 {
		t.say("NO_STOCK", "There is no shim in stock.")
	}
	for i, miss := range t.r.Misses {
		t.miss(i, miss)
	}
	for _, relief := range t.r.Reliefs {
		t.relief(relief)
	}
	if len(t.r.Reliefs) == 0 {
		thin, thick := t.m.packFor(t.m.lower), t.m.packFor(t.m.upper)
		if t.m.gain.Sign() < 0 {
			thin, thick = thick, thin
		}
		t.say("BOUND_BY_SIZES", fmt.Sprintf("More stock of these sizes would not help, nor up to %s in one pack: a pack of %s to %s is wanted.",
			shims(MaxCount), t.m.pack.amount(thin), t.m.pack.amount(thick)))
	}
}

// miss tells of the nearest pack, or of the next one, on the other side.
func (t teller) miss(i int, miss Miss) {
	side := "below"
	if miss.Above {
		side = "above"
	}
	rule, which := "NEAREST_MISS", "The nearest"
	if i > 0 {
		rule, which = "NEAREST_ON_THE_OTHER_SIDE", "The nearest on the other side"
	}
	text := fmt.Sprintf("%s: %s gives %s, %s %s the window.", which, made(miss.Pack), miss.Gives, miss.By, side)
	if !t.isFloat() && miss.Gives.Value.Sign() < 0 {
		text = fmt.Sprintf("%s: %s leaves float, not preload; how much of it the slope cannot tell.", which, made(miss.Pack))
	}
	t.say(rule, text, fact("pack", miss.String()), fact("gives", miss.Gives.String()), fact("by", miss.By.String()), fact("side", side))
}

func (t teller) relief(r Relief) {
	var short []string
	for _, u := range r.Pack.Shims {
		if u.Short == 0 {
			continue
		}
		text := fmt.Sprintf("%d × %s", u.Short, u.Thickness)
		if u.Part != "" {
			text += " (" + u.Part + ")"
		}
		short = append(short, text)
	}
	given := fmt.Sprintf("%s would give %s", r.Pack, r.Pack.Gives)
	missing := strings.Join(short, ", ")
	facts := []vehicle.Fact{fact("pack", r.Pack.String()), fact("gives", r.Pack.Gives.String())}
	switch {
	case r.Stock && r.Count:
		t.say("BOUND_BY_STOCK_AND_COUNT", fmt.Sprintf("Stock and the largest count of %d stand in the way: %s, with %s more than there are, and %s in the pack.",
			t.p.LargestCount, given, missing, shims(r.Pack.Count)), append(facts, fact("short", missing))...)
	case r.Stock:
		t.say("BOUND_BY_STOCK", fmt.Sprintf("Stock stands in the way: %s; it lacks %s.", given, missing), append(facts, fact("short", missing))...)
	default:
		t.say("BOUND_BY_COUNT", fmt.Sprintf("The largest count of %d stands in the way: %s, with %s.",
			t.p.LargestCount, given, shims(r.Pack.Count)), append(facts, fact("count", strconv.Itoa(r.Pack.Count)))...)
	}
}
