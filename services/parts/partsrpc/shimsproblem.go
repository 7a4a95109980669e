package partsrpc

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/parts"
	"halfshaft/services/shims"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// usualLargest is the most shims of a pack where the setting does not say.
const usualLargest = 6

// problem is a question about shims, made of a request and the setting that it
// leaves the rest to.
type problem struct {
	shims.Problem
	req     *partsv1.SelectShimsRequest
	setting *parts.Setting
	wrong   []fault.Field // of the request
}

// read puts the problem together.
func (p *problem) read() {
	req, design := p.req, p.setting.Shims
	p.Measured = p.quantity("measured", req.GetMeasured())
	p.window()
	p.Design = shims.TakesUpFloat
	if design.Sign == parts.AddsFloat {
		p.Design = shims.AddsFloat
	}
	if design.LoadPerMM != "" {
		p.Slope = p.inUnit(design.LoadPerMM)
		p.Slope.Unit += "/mm"
	}
	p.rule()
	p.LargestCount = design.Largest
	if n := int(req.GetLargestCount()); n != 0 {
		p.LargestCount = n
	} else if p.LargestCount == 0 {
		p.LargestCount = usualLargest
	}
	p.ReuseFitted = req.GetReuse()
	p.Joint = shims.JointAt(p.setting.Position)
	p.fitted()
	p.sizes()
}

func (p *problem) must(ok bool, name, got, want string) bool {
	if !ok {
		p.wrong = append(p.wrong, fault.Field{Name: name, Got: got, Want: want})
	}
	return ok
}

// quantity reads a number with its unit; an absent one is the zero quantity.
func (p *problem) quantity(name string, q *vehiclev1.Quantity) vehicle.Quantity {
	got, err := vehiclewire.Quantity(q)
	p.must(err == nil && (q == nil || q.GetUnit() != ""), name, strings.TrimSpace(q.GetValue()+" "+q.GetUnit()),
		"a number and its unit, as in 0.10 mm")
	return got
}

// inUnit is a number of the setting with its unit; what is no number was
// refused when the setting was recorded.
func (p *problem) inUnit(text string) vehicle.Quantity {
	value, _ := vehicle.ParseDecimal(text)
	return vehicle.Quantity{Value: value, Unit: p.setting.Unit}
}

// window reads the window and the target: what the request gives, else what the
// setting has. A target of the setting that lies outside another window is let
// go.
func (p *problem) window() {
	p.Lower = p.limit("lower", p.req.GetLower(), p.setting.Lower)
	p.Upper = p.limit("upper", p.req.GetUpper(), p.setting.Upper)
	switch target := p.setting.Target; {
	case p.req.GetTarget() != "":
		p.Target = p.limit("target", p.req.GetTarget(), "")
	case target != "":
		if t := p.inUnit(target); p.inWindow(t) {
			p.Target = t
		}
	}
}

func (p *problem) inWindow(q vehicle.Quantity) bool {
	lower, hasLower := p.Lower.In(q.Unit)
	upper, hasUpper := p.Upper.In(q.Unit)
	value := q.Value.Rat()
	return hasLower && hasUpper && lower.Cmp(value) <= 0 && value.Cmp(upper) <= 0
}

// limit reads one number of the window, which is in the unit of the setting
// where it has none of its own.
func (p *problem) limit(name, given, otherwise string) vehicle.Quantity {
	if given == "" {
		return p.inUnit(otherwise)
	}
	if q, err := vehicle.ParseQuantity(given); err == nil {
		return q
	}
	value, err := vehicle.ParseDecimal(given)
	p.must(err == nil, name, given, "a number, with its unit where that is not "+p.setting.Unit+", as in 0.10 mm")
	return vehicle.Quantity{Value: value, Unit: p.setting.Unit}
}

func (p *problem) rule() {
	rule := p.req.GetRule()
	if rule == partsv1.ShimRule_SHIM_RULE_UNSPECIFIED {
		rule = partsv1.ShimRule(p.setting.Shims.Rule)
	}
	switch rule {
	case partsv1.ShimRule_SHIM_RULE_UNSPECIFIED, partsv1.ShimRule_SHIM_RULE_FEWEST_THEN_NEAREST:
		p.Rule = shims.FewestThenNearest
	case partsv1.ShimRule_SHIM_RULE_NEAREST_THEN_FEWEST:
		p.Rule = shims.NearestThenFewest
	default:
		p.must(false, "rule", strconv.Itoa(int(rule)), "FEWEST_THEN_NEAREST or NEAREST_THEN_FEWEST")
	}
}

func (p *problem) fitted() {
	p.Fitted.Total = p.quantity("fitted_pack", p.req.GetFittedPack())
	for i, held := range p.req.GetFittedShims() {
		at := fmt.Sprintf("fitted_shims[%d]", i)
		p.Fitted.Shims = append(p.Fitted.Shims, shims.Held{
			Thickness: p.quantity(at+".thickness", held.GetThickness()), Count: count(held.GetCount()), Part: p.part(at, held.GetPart()),
		})
	}
}

// sizes reads the shims to choose from: those of the request, else those of
// the setting.
func (p *problem) sizes() {
	for i, size := range p.req.GetSizes() {
		at := fmt.Sprintf("sizes[%d]", i)
		p.Sizes = append(p.Sizes, shims.Size{
			Thickness: p.quantity(at+".thickness", size.GetThickness()), Part: p.part(at, size.GetPart()),
			Stock: int(size.GetStock()), Unlimited: size.Stock == nil,
		})
	}
	if len(p.req.GetSizes()) > 0 {
		return
	}
	for _, size := range p.setting.Shims.Sizes {
		p.Sizes = append(p.Sizes, shims.Size{Thickness: size.Thickness, Part: size.Part, Stock: size.Stock, Unlimited: !size.Limited})
	}
	p.must(len(p.Sizes) > 0, "sizes", "", "the shims to choose from: the setting has none on record")
}

// part reads the number of a shim, which may be missing.
func (p *problem) part(at, name string) string {
	if name == "" {
		return ""
	}
	number, ok := strings.CutPrefix(name, "parts/")
	p.must(ok && parts.NormalNumber(number) != "" && len(number) <= maxPosition, at+".part", name, "parts/{part}")
	return number
}

// ours is how the request calls the fields of a problem.
var ours = strings.NewReplacer("fitted.total", "fitted_pack", "fitted.shims", "fitted_shims", "reuse_fitted", "reuse")

// refusal says everything that is wrong with the request; where nothing is but
// the setting cannot be worked to, it says that.
func (p *problem) refusal(err error) error {
	kind := p.Measured.Unit == "" || vehicle.Convertible(p.Measured.Unit, p.setting.Unit)
	p.must(kind, "measured", p.Measured.String(), fmt.Sprintf("a value in %s, or in a unit that converts into it: it is the %s that is set at the %s",
		p.setting.Unit, parts.Spoken(p.setting.Characteristic), parts.Spoken(p.setting.Position)))
	var settings []fault.Field
	for _, f := range fault.FieldsOf("", err) {
		f.Name = ours.Replace(f.Name)
		if f.Name == "fitted" {
			f.Name = "fitted_pack"
		}
		switch {
		case slices.ContainsFunc(p.wrong, func(have fault.Field) bool { return have.Name == f.Name }):
		case p.given(f.Name):
			p.wrong = append(p.wrong, f)
		case kind:
			settings = append(settings, f)
		}
	}
	switch {
	case len(p.wrong) > 0:
		return fault.InvalidFields(p.wrong)
	case len(settings) > 0:
		return &fault.Error{
			Kind: fault.FailedPrecondition, Reason: "SETTING_UNFIT",
			Message: parts.SettingName(p.setting.ID) + " cannot be worked to: " + settings[0].String(),
		}
	}
	return err
}

// given says whether a field is the request's, and not taken from the setting.
func (p *problem) given(name string) bool {
	switch field, _, _ := strings.Cut(name, "["); field {
	case "lower":
		return p.req.GetLower() != ""
	case "upper":
		return p.req.GetUpper() != "" || p.req.GetLower() != ""
	case "target":
		return p.req.GetTarget() != ""
	case "largest_count":
		return p.req.GetLargestCount() != 0
	case "rule":
		return p.req.GetRule() != 0
	case "sizes":
		return len(p.req.GetSizes()) > 0
	case "slope", "design", "joint":
		return false
	}
	return true
}
