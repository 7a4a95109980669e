package partsrpc

import (
	"slices"
	"strings"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/parts"
	"halfshaft/services/shims"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// write fills in an answer that has the setting and what is renewed already.
func write(m *partsv1.ShimSelection, setting *parts.ShimSetting, p *shims.Problem, r *shims.Result) {
	m.Measured = vehiclewire.QuantityProto(p.Measured)
	m.FittedPack = vehiclewire.QuantityProto(r.Fitted.Total.Quantity)
	m.NeededPack, m.NeededRounded = vehiclewire.QuantityProto(r.Needed.Quantity), r.Needed.Rounded
	m.Within, m.Worthwhile = r.Verdict == shims.LeaveIt, r.Worthwhile
	m.BestPacks = r.Optimal
	for i := range r.Packs {
		m.Packs = append(m.Packs, packProto(&r.Packs[i]))
	}
	for i := range r.Misses {
		miss := packProto(&r.Misses[i].Pack)
		miss.MissesBy = vehiclewire.QuantityProto(r.Misses[i].By.Quantity)
		miss.Rounded = miss.Rounded || r.Misses[i].By.Rounded
		if i == 0 {
			m.NearestMiss = miss
		} else {
			m.OtherMiss = miss
		}
	}
	for i := range r.Reliefs {
		relief := &r.Reliefs[i]
		m.Reliefs = append(m.Reliefs, &partsv1.ShimRelief{Stock: relief.Stock, LargestCount: relief.Count, Pack: packProto(&relief.Pack)})
	}
	m.Reasons = vehiclewire.Reasons(append([]vehicle.Reason{setting.Reason}, r.Reasons...))
	if len(r.Packs) > 0 {
		m.Reasons = append(m.Reasons, vehiclewire.ReasonProto(recordOverhaul(m.Build, setting)))
	}
	m.LookFor = vehiclewire.Reasons(r.LookFor)
	for _, l := range m.Renew {
		text := times(count(l.GetQuantity()), strings.TrimPrefix(l.GetPart(), "parts/"))
		if l.GetTitle() != "" {
			text += ", " + l.GetTitle()
		}
		m.RenewWith = append(m.RenewWith, text)
	}
	m.Caution = cautions(setting, r.Cautions)
}

// recordOverhaul says what else is to be recorded when the pack is changed: the
// bedding-in of a component begins with a change of the vehicle, not with an
// entry of the schedule.
func recordOverhaul(name string, setting *parts.ShimSetting) vehicle.Reason {
	return vehicle.Reason{
		Rule: "RECORD_THE_OVERHAUL", Record: name,
		Facts: []vehicle.Fact{{Name: "position", Value: setting.Component}},
		Sentence: "If the pack is changed, record an overhaul of the " + parts.Spoken(setting.Component) +
			" among the changes of the vehicle too: its bedding-in check is counted from that.",
	}
}

// cautions joins what is to be minded, each once.
func cautions(setting *parts.ShimSetting, ours []vehicle.Reason) string {
	all := slices.Clone(setting.Cautions)
	for _, c := range ours {
		if !slices.Contains(all, c.Sentence) {
			all = append(all, c.Sentence)
		}
	}
	return strings.Join(all, " ")
}

// packProto writes a pack, the thickest shim first.
func packProto(p *shims.Pack) *partsv1.ShimPack {
	m := &partsv1.ShimPack{
		Thickness: vehiclewire.QuantityProto(p.Total.Quantity), Result: vehiclewire.QuantityProto(p.Gives.Quantity),
		FromTarget: vehiclewire.QuantityProto(p.Off.Quantity), Rounded: p.Total.Rounded || p.Gives.Rounded || p.Off.Rounded,
	}
	for _, use := range slices.Backward(p.Shims) {
		shim := &partsv1.ShimCount{
			Thickness: vehiclewire.QuantityProto(use.Thickness), Count: int32(use.Count),
			FromFitted: int32(use.FromFitted), Short: int32(use.Short),
		}
		if use.Part != "" {
			shim.Part = parts.PartName(use.Part)
		}
		m.Shims = append(m.Shims, shim)
	}
	return m
}
