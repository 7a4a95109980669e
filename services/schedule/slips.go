package schedule

import (
	"cmp"
	"math"
	"slices"

	"halfshaft/services/vehicle"
)

// slips tries what people do to digits: exchange two that stand side by side or
// next but one, take one for another, leave one out, type one twice.
func (x *doubt) slips() {
	reads := x.mark.Value
	if reads.Unit != x.run.dial.Unit {
		return
	}
	typed := []byte(reads.Value.String())
	n := float64(len(typed))
	x.slip(RuleSwapped, "Two digits changed places", oftenSwapped/n, exchanges(typed))
	x.slip(RuleDigit, "One digit was misread", oftenDigit/(9*n), misreadings(typed))
	x.slip(RuleMissing, "One digit was left out", oftenMissing/(n+1), omissions(typed))
	x.slip(RuleTwice, "One digit was typed twice", oftenTwice/n, repetitions(typed))
}

// slip takes in one kind of slip, with the likeliest of what may have been
// meant. It is as likely as all of them together; often is how often one of
// them happens.
func (x *doubt) slip(rule Rule, words string, often float64, meant []string) {
	at := *x
	at.found = nil
	for _, digits := range meant {
		value, err := vehicle.ParseDecimal(digits)
		if err != nil {
			continue
		}
		e := vehicle.Entered{Value: value, Unit: x.run.dial.Unit}
		if m := x.run.dial.Modulus(); m > 0 && mm(e) >= m {
			continue
		}
		at.add(Explanation{Rule: rule, WouldRead: e, Verdict: Corrected, Sentence: words + ": it showed " + e.Text() + "."},
			at.on(e), at.chance(at.on(e)), at.own()*often)
	}
	if len(at.found) == 0 {
		return
	}
	best := slices.MaxFunc(at.found, func(a, b Explanation) int { return cmp.Compare(a.score, b.score) })
	sum := 0.0
	for _, e := range at.found {
		sum += math.Exp(e.score - best.score)
	}
	best.score += math.Log(sum)
	x.found = append(x.found, best)
}

func exchanges(typed []byte) (meant []string) {
	for i := range typed {
		for j := i + 1; j < len(typed) && j <= i+2; j++ {
			if typed[i] == typed[j] || typed[i] == '.' || typed[j] == '.' {
				continue
			}
			other := slices.Clone(typed)
			other[i], other[j] = other[j], other[i]
			meant = append(meant, string(other))
		}
	}
	return meant
}

func misreadings(typed []byte) (meant []string) {
	for i := range typed {
		for digit := byte('0'); digit <= '9'; digit++ {
			if typed[i] == '.' || typed[i] == digit {
				continue
			}
			other := slices.Clone(typed)
			other[i] = digit
			meant = append(meant, string(other))
		}
	}
	return meant
}

func omissions(typed []byte) (meant []string) {
	for i := range len(typed) + 1 {
		for digit := byte('0'); digit <= '9'; digit++ {
			if i > 0 && typed[i-1] == digit { // the same as after the digit before
				continue
			}
			meant = append(meant, string(slices.Insert(slices.Clone(typed), i, digit)))
		}
	}
	return meant
}

func repetitions(typed []byte) (meant []string) {
	for i := 1; i < len(typed); i++ {
		if typed[i] != typed[i-1] {
			continue
		}
		meant = append(meant, string(slices.Delete(slices.Clone(typed), i, i+1)))
	}
	return meant
}
