package schedulewire

import (
	"strconv"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle/vehiclewire"
)

// ProgrammePattern is the form of a version's name.
const ProgrammePattern = "programmes/{programme}/versions/{version}"

// ProgrammeName reads identifier and number out of a version's name.
func ProgrammeName(name string) (id string, version int, err error) {
	ids, err := resname.Match("name", ProgrammePattern, name)
	if err != nil {
		return "", 0, err
	}
	version, err = strconv.Atoi(ids[1])
	if err != nil || version < 1 || version > 9999 || strconv.Itoa(version) != ids[1] {
		return "", 0, fault.InvalidField("name", name, "programmes/PROGRAMME/versions/NUMBER, the number from 1")
	}
	return ids[0], version, nil
}

// Programme reads a version of a programme.
func Programme(p *schedulev1.Programme) (schedule.Programme, error) {
	var r reader
	out := schedule.Programme{
		Title: p.GetTitle(), Effective: r.Date("effective_date", p.GetEffectiveDate()),
		Sample: p.GetSample(), SignedBy: p.GetSignedBy(), Items: make([]schedule.Item, len(p.GetItems())),
		Visits: VisitRules(p.GetVisits()),
	}
	var err error
	out.ID, out.Version, err = ProgrammeName(p.GetName())
	r.Refuse("name", err)
	for i, it := range p.GetItems() {
		out.Items[i] = r.item(vehiclewire.At("items", i, ""), it)
	}
	return out, r.Err()
}

func (r *reader) item(path string, p *schedulev1.Item) schedule.Item {
	it := schedule.Item{
		ID: p.GetItemId(), Title: p.GetTitle(), Group: p.GetGroup(), AppliesWhen: p.GetAppliesWhen(), Position: p.GetPosition(),
		First: r.limit(path+"first", p.GetFirst()), FirstFrom: vehiclewire.Enum[schedule.CountedFrom](p.GetFirstFrom()),
		Every: r.limit(path+"every", p.GetEvery()),
		Severe: schedule.Severe{
			DistanceFactor: r.decimal(path+"severe.distance_factor", p.GetSevere().GetDistanceFactor()),
			TimeFactor:     r.decimal(path+"severe.time_factor", p.GetSevere().GetTimeFactor()),
		},
		Resets: p.GetResets(), Tools: p.GetTools(), Caution: p.GetCaution(), DocRef: p.GetDocRef(),
		SourceMark: p.GetSourceMark(), LayUp: vehiclewire.Enum[schedule.LayUpRule](p.GetLayUp()),
		NoticeDays: int(p.GetNoticeDays()), Why: p.GetWhy(), OwnerCheck: p.GetOwnerCheck(), KeepCalendarDays: int(p.GetKeepCalendarDays()), Cost: int(p.GetCost()),
		Class: vehiclewire.Enum[schedule.ItemClass](p.GetItemClass()),
		Fluid: schedule.FluidNeed{
			Fluid: p.GetFluid().GetFluid(), Quantity: r.quantity(path+"fluid.quantity", p.GetFluid().GetQuantity()),
			NeverMix: p.GetFluid().GetNeverMix(),
		},
	}
	for _, k := range p.GetSevere().GetWhen() {
		it.Severe.When = append(it.Severe.When, vehiclewire.Enum[schedule.UseKind](k))
	}
	for i, s := range p.GetStartsOn() {
		it.StartsOn = append(it.StartsOn, schedule.EventStart{
			Event:          vehiclewire.Enum[schedule.EventKind](s.GetEvent()),
			NotBefore:      r.Entered(path+vehiclewire.At("starts_on", i, "not_before"), s.GetNotBefore()),
			WithinDistance: r.Entered(path+vehiclewire.At("starts_on", i, "within_distance"), s.GetWithinDistance()),
			WithinDays:     int(s.GetWithinDays()),
		})
	}
	for i, m := range p.GetMeasured() {
		it.Measured = append(it.Measured, schedule.MeasuredLimit{
			Characteristic: m.GetCharacteristic(), Unit: m.GetUnit(), Method: m.GetMethod(),
			Lower:  r.bound(path+vehiclewire.At("measured", i, "lower"), m.GetLower()),
			Upper:  r.bound(path+vehiclewire.At("measured", i, "upper"), m.GetUpper()),
			Action: r.bound(path+vehiclewire.At("measured", i, "action"), m.GetAction()),
		})
	}
	for _, n := range p.GetParts() {
		it.Parts = append(it.Parts, schedule.PartNeed{Position: n.GetPosition(), Quantity: int(n.GetQuantity()), IfNeeded: n.GetIfNeeded()})
	}
	return it
}

func (r *reader) limit(path string, l *schedulev1.Limit) schedule.Limit {
	return schedule.Limit{Distance: r.Entered(path+".distance", l.GetDistance()), Months: int(l.GetMonths())}
}

// ItemProto writes an item.
func ItemProto(it *schedule.Item) *schedulev1.Item {
	p := &schedulev1.Item{
		ItemId: it.ID, Title: it.Title, Group: it.Group, AppliesWhen: it.AppliesWhen, Position: it.Position,
		First: limitProto(it.First), FirstFrom: schedulev1.CountedFrom(it.FirstFrom), Every: limitProto(it.Every),
		Resets: it.Resets, Tools: it.Tools, Caution: it.Caution, DocRef: it.DocRef, SourceMark: it.SourceMark,
		LayUp: schedulev1.LayUpRule(it.LayUp), NoticeDays: int32(it.NoticeDays), Why: it.Why, OwnerCheck: it.OwnerCheck, KeepCalendarDays: int32(it.KeepCalendarDays), Cost: int32(it.Cost),
		ItemClass: schedulev1.ItemClass(it.Class),
	}
	severe := &schedulev1.Severe{
		DistanceFactor: decimalText(it.Severe.DistanceFactor), TimeFactor: decimalText(it.Severe.TimeFactor),
	}
	for _, k := range it.Severe.When {
		severe.When = append(severe.When, schedulev1.UseKind(k))
	}
	if severe.DistanceFactor != "" || severe.TimeFactor != "" || len(severe.When) > 0 {
		p.Severe = severe
	}
	for _, s := range it.StartsOn {
		p.StartsOn = append(p.StartsOn, &schedulev1.EventStart{
			Event: schedulev1.EventKind(s.Event), NotBefore: vehiclewire.EnteredProto(s.NotBefore),
			WithinDistance: vehiclewire.EnteredProto(s.WithinDistance), WithinDays: int32(s.WithinDays),
		})
	}
	for i := range it.Measured {
		m := &it.Measured[i]
		p.Measured = append(p.Measured, &schedulev1.MeasuredLimit{
			Characteristic: m.Characteristic, Unit: m.Unit, Lower: boundText(m.Lower), Upper: boundText(m.Upper),
			Action: boundText(m.Action), Method: m.Method,
		})
	}
	if it.Fluid != (schedule.FluidNeed{}) {
		p.Fluid = &schedulev1.FluidNeed{
			Fluid: it.Fluid.Fluid, Quantity: vehiclewire.QuantityProto(it.Fluid.Quantity), NeverMix: it.Fluid.NeverMix,
		}
	}
	for _, n := range it.Parts {
		p.Parts = append(p.Parts, &schedulev1.PartNeed{Position: n.Position, Quantity: int32(n.Quantity), IfNeeded: n.IfNeeded})
	}
	return p
}

func limitProto(l schedule.Limit) *schedulev1.Limit {
	if l.IsZero() {
		return nil
	}
	return &schedulev1.Limit{Distance: vehiclewire.EnteredProto(l.Distance), Months: int32(l.Months)}
}

// ProgrammeProto writes a version of a programme.
func ProgrammeProto(p *schedule.Programme) *schedulev1.Programme {
	out := &schedulev1.Programme{
		Name: p.Name(), Title: p.Title, EffectiveDate: vehiclewire.DateProto(p.Effective), Sample: p.Sample, SignedBy: p.SignedBy,
	}
	for i := range p.Items {
		out.Items = append(out.Items, ItemProto(&p.Items[i]))
	}
	out.Visits = VisitRulesProto(p.Visits)
	return out
}
