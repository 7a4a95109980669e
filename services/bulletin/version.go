package bulletin

import (
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// asks is what a version asks of whoever has a vehicle, beside its words.
type asks struct{ stop, hold, remedy bool }

// more gives what a version asks that the one before it did not. A change of
// words asks nothing.
func (b *Bulletin) more(before *Bulletin) asks {
	return asks{
		stop: b.StopUse && !before.StopUse, hold: b.HoldDelivery && !before.HoldDelivery,
		remedy: !slices.EqualFunc(b.Remedy, before.Remedy, sameWork),
	}
}

// sameWork says whether two items are the same work, whatever they are called:
// the same parts, the same values, looked at again after the same time.
func sameWork(a, b RemedyItem) bool {
	samePart := func(p, q RemedyPart) bool {
		return p.Position == q.Position && p.Quantity == q.Quantity && build.Fold(p.Part) == build.Fold(q.Part)
	}
	sameLimit := func(l, m schedule.MeasuredLimit) bool {
		return l.Characteristic == m.Characteristic && l.Unit == m.Unit && sameBound(l.Lower, m.Lower) && sameBound(l.Upper, m.Upper)
	}
	return a.ID == b.ID && a.Reinspection == b.Reinspection &&
		slices.EqualFunc(a.Parts, b.Parts, samePart) && slices.EqualFunc(a.Measured, b.Measured, sameLimit)
}

func sameBound(a, b *vehicle.Decimal) bool {
	if a == nil || b == nil {
		return a == b
	}
	return a.Cmp(*b) == 0
}

// asksMore says, in a sentence, what the version that holds asks that the owner
// was not written to about in this round; empty for nothing. versions are those
// that were issued, in order.
func (f *FollowUp) asksMore(versions []*Bulletin) string {
	if len(versions) == 0 {
		return ""
	}
	holds, known := versions[len(versions)-1], f.knows(versions)
	var news asks
	for i := 1; i < len(versions); i++ {
		if versions[i].Version > known {
			m := versions[i].more(versions[i-1])
			news = asks{news.stop || m.stop, news.hold || m.hold, news.remedy || m.remedy}
		}
	}
	var what []string
	if news.stop && holds.StopUse {
		what = append(what, "the vehicle is not to be driven before the remedy")
	}
	if news.hold && holds.HoldDelivery {
		what = append(what, "it is not to leave the works before the remedy")
	}
	if news.remedy {
		what = append(what, "the remedy is another")
	}
	if len(what) == 0 {
		return ""
	}
	return "By version " + itoa(holds.Version) + " " + strings.Join(what, ", and ") + "."
}

// knows gives the last version that the round was begun under, or later: by the
// version that put the vehicle on the list, that began a round, or that was
// issued before one began.
func (f *FollowUp) knows(versions []*Bulletin) int {
	known := f.Version
	for i := range f.Steps {
		s := &f.Steps[i]
		if s.Kind != StepNewVersion && s.Kind != StepReopened && s.Kind != StepFoundWrong {
			continue
		}
		for _, v := range versions {
			if v.Version > known && (s.Evidence == v.Name() || v.Issued.Before(vehicle.DateOf(s.Recorded))) {
				known = v.Version
			}
		}
	}
	return known
}

// HoldFrom gives the day since which delivery has been held back without a break
// up to the version that holds; zero where it holds nothing back. versions are
// those that were issued, in order.
func HoldFrom(versions []*Bulletin) vehicle.Date {
	var from vehicle.Date
	for i, v := range slices.Backward(versions) {
		if i == len(versions)-1 && v.State != Issued || !v.HoldDelivery || v.WithdrawReason != "" {
			break
		}
		from = v.Issued
	}
	return from
}
