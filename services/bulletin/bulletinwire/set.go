package bulletinwire

import (
	"fmt"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/bulletin"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Set reads which vehicles a bulletin is for.
func Set(p *bulletinv1.BulletinSet) (bulletin.Set, error) {
	var r reader
	s := r.set("set", p)
	return s, r.Err()
}

func (r *reader) set(path string, p *bulletinv1.BulletinSet) bulletin.Set {
	s := bulletin.Set{
		Serials: r.serials(path+".serials", p.GetSerials()),
		Except:  r.serials(path+".except_serials", p.GetExceptSerials()),
	}
	if p.GetCondition() != nil {
		c := r.condition(path+".condition", p.GetCondition(), 0)
		s.When = &c
	}
	return s
}

// maxDepth is how deep conditions may stand in each other.
const maxDepth = 20

// condition reads a condition; depth is how deep it stands in others.
func (r *reader) condition(path string, p *bulletinv1.SetCondition, depth int) bulletin.Condition {
	var c bulletin.Condition
	if depth >= maxDepth {
		r.Bad(path, "", "conditions no more than 20 deep")
		return c
	}
	switch of := p.GetCondition().(type) {
	case *bulletinv1.SetCondition_All:
		c.All = r.conditions(path+".all", of.All, depth)
	case *bulletinv1.SetCondition_Any:
		c.Any = r.conditions(path+".any", of.Any, depth)
	case *bulletinv1.SetCondition_Not:
		not := r.condition(path+".not", of.Not, depth+1)
		c.Not = &not
	case *bulletinv1.SetCondition_Release:
		c.Release = &bulletin.ReleaseCondition{Releases: of.Release.GetValues()}
	case *bulletinv1.SetCondition_BuiltRelease:
		c.Release = &bulletin.ReleaseCondition{Releases: of.BuiltRelease.GetValues(), AsBuilt: true}
	case *bulletinv1.SetCondition_Option:
		c.Option = &bulletin.OptionCondition{Option: of.Option}
	case *bulletinv1.SetCondition_BuiltOption:
		c.Option = &bulletin.OptionCondition{Option: of.BuiltOption, AsBuilt: true}
	case *bulletinv1.SetCondition_Market:
		c.Markets = r.words(path+".market", of.Market)
	case *bulletinv1.SetCondition_Wheelbase:
		c.Wheelbases = r.words(path+".wheelbase", of.Wheelbase)
	case *bulletinv1.SetCondition_Expression:
		if c.Expression = of.Expression; c.Expression == "" {
			r.Bad(path+".expression", "", "an expression that is true or false")
		}
	case nil:
		r.Bad(path, "", "one condition")
	default:
		r.ranged(path, p, &c)
	}
	return c
}

// ranged reads the conditions with bounds, and those of units and use.
func (r *reader) ranged(path string, p *bulletinv1.SetCondition, c *bulletin.Condition) {
	switch of := p.GetCondition().(type) {
	case *bulletinv1.SetCondition_Serials:
		c.Serials = &bulletin.SerialRange{
			First: r.bounding(path+".serials.first", of.Serials.GetFirst()), Last: r.bounding(path+".serials.last", of.Serials.GetLast()),
			Except: r.serials(path+".serials.except_serials", of.Serials.GetExceptSerials()),
		}
	case *bulletinv1.SetCondition_Built:
		c.Built = r.days(path+".built", of.Built)
	case *bulletinv1.SetCondition_Delivered:
		c.Delivered = r.days(path+".delivered", of.Delivered)
	case *bulletinv1.SetCondition_Fitted:
		c.Fitted = &bulletin.FittedUnit{
			Position: of.Fitted.GetPosition(), Parts: of.Fitted.GetParts(), Lots: of.Fitted.GetLots(),
			Serials: of.Fitted.GetSerials(), Ever: of.Fitted.GetEver(),
		}
	case *bulletinv1.SetCondition_Use:
		c.Use = &bulletin.UseCondition{Ever: of.Use.GetEver()}
		for _, k := range of.Use.GetKinds() {
			c.Use.Kinds = append(c.Use.Kinds, useKind(k))
		}
	}
}

// bounding reads a serial where there may be none.
func (r *reader) bounding(path, text string) vehicle.Serial {
	if text == "" {
		return ""
	}
	serial, err := vehicle.ParseSerial(text)
	r.Refuse(path, err)
	return serial
}

// useKind narrows a kind; one that the domain cannot hold becomes one that it
// refuses.
func useKind(k schedulev1.UseKind) schedule.UseKind {
	if k < 0 || k > 255 {
		return 255
	}
	return schedule.UseKind(k)
}

func (r *reader) conditions(path string, p *bulletinv1.SetConditions, depth int) []bulletin.Condition {
	if len(p.GetConditions()) == 0 {
		r.Bad(path+".conditions", "", "at least one condition")
	}
	var out []bulletin.Condition
	for i, c := range p.GetConditions() {
		out = append(out, r.condition(fmt.Sprintf("%s.conditions[%d]", path, i), c, depth+1))
	}
	return out
}

func (r *reader) words(path string, p *bulletinv1.TextSet) []string {
	if len(p.GetValues()) == 0 {
		r.Bad(path+".values", "", "at least one word")
	}
	return p.GetValues()
}

func (r *reader) days(path string, p *bulletinv1.DateRange) *bulletin.DateRange {
	return &bulletin.DateRange{Start: r.Date(path+".start_date", p.GetStartDate()), End: r.Date(path+".end_date", p.GetEndDate())}
}

// SetProto writes which vehicles a bulletin is for; nil for none.
func SetProto(s *bulletin.Set) *bulletinv1.BulletinSet {
	if len(s.Serials) == 0 && len(s.Except) == 0 && s.When == nil {
		return nil
	}
	p := &bulletinv1.BulletinSet{Serials: texts(s.Serials), ExceptSerials: texts(s.Except)}
	if s.When != nil {
		p.Condition = conditionProto(s.When)
	}
	return p
}

func conditionProto(c *bulletin.Condition) *bulletinv1.SetCondition {
	p := &bulletinv1.SetCondition{}
	switch {
	case c.All != nil:
		p.Condition = &bulletinv1.SetCondition_All{All: conditionsProto(c.All)}
	case c.Any != nil:
		p.Condition = &bulletinv1.SetCondition_Any{Any: conditionsProto(c.Any)}
	case c.Not != nil:
		p.Condition = &bulletinv1.SetCondition_Not{Not: conditionProto(c.Not)}
	case c.Release != nil && c.Release.AsBuilt:
		p.Condition = &bulletinv1.SetCondition_BuiltRelease{BuiltRelease: &bulletinv1.TextSet{Values: c.Release.Releases}}
	case c.Release != nil:
		p.Condition = &bulletinv1.SetCondition_Release{Release: &bulletinv1.TextSet{Values: c.Release.Releases}}
	case c.Option != nil && c.Option.AsBuilt:
		p.Condition = &bulletinv1.SetCondition_BuiltOption{BuiltOption: c.Option.Option}
	case c.Option != nil:
		p.Condition = &bulletinv1.SetCondition_Option{Option: c.Option.Option}
	case c.Markets != nil:
		p.Condition = &bulletinv1.SetCondition_Market{Market: &bulletinv1.TextSet{Values: c.Markets}}
	case c.Wheelbases != nil:
		p.Condition = &bulletinv1.SetCondition_Wheelbase{Wheelbase: &bulletinv1.TextSet{Values: c.Wheelbases}}
	case c.Expression != "":
		p.Condition = &bulletinv1.SetCondition_Expression{Expression: c.Expression}
	default:
		rangedProto(p, c)
	}
	return p
}

func rangedProto(p *bulletinv1.SetCondition, c *bulletin.Condition) {
	switch {
	case c.Serials != nil:
		p.Condition = &bulletinv1.SetCondition_Serials{Serials: &bulletinv1.SerialRange{
			First: string(c.Serials.First), Last: string(c.Serials.Last), ExceptSerials: texts(c.Serials.Except)}}
	case c.Built != nil:
		p.Condition = &bulletinv1.SetCondition_Built{Built: daysProto(c.Built)}
	case c.Delivered != nil:
		p.Condition = &bulletinv1.SetCondition_Delivered{Delivered: daysProto(c.Delivered)}
	case c.Fitted != nil:
		f := c.Fitted
		p.Condition = &bulletinv1.SetCondition_Fitted{Fitted: &bulletinv1.FittedUnit{
			Position: f.Position, Parts: f.Parts, Lots: f.Lots, Serials: f.Serials, Ever: f.Ever}}
	case c.Use != nil:
		u := &bulletinv1.UseCondition{Ever: c.Use.Ever}
		for _, k := range c.Use.Kinds {
			u.Kinds = append(u.Kinds, schedulev1.UseKind(k))
		}
		p.Condition = &bulletinv1.SetCondition_Use{Use: u}
	}
}

func conditionsProto(all []bulletin.Condition) *bulletinv1.SetConditions {
	p := &bulletinv1.SetConditions{}
	for i := range all {
		p.Conditions = append(p.Conditions, conditionProto(&all[i]))
	}
	return p
}

func daysProto(d *bulletin.DateRange) *bulletinv1.DateRange {
	return &bulletinv1.DateRange{StartDate: vehiclewire.DateProto(d.Start), EndDate: vehiclewire.DateProto(d.End)}
}
