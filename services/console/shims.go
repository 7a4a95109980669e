package console

import (
	"context"
	"errors"
	"fmt"
	"strings"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// ShimQuestion asks which pack of shims to fit, as typed on the command line.
type ShimQuestion struct {
	Position       string // "output shaft bearing"
	Characteristic string // where the position has several settings with shims
	Subject        string
	Measured       string // "0.15 mm"; "minus 0.04 mm" for preload, which is a negative float
	Pack           string // how thick the fitted pack is: "0.76 mm"
	Fitted         string // or its shims: "0.51 mm x1; 0.25 mm x1"
	Reuse          bool   // the fitted shims may be fitted again
	Window         string // "0.05..0.10 mm"; without a unit, that of the setting
	Target         string
	Rule           string // "fewest" or "nearest"
	Stock          string // "0.08 mm x4; 0.13 mm": without a count there are always enough
	Largest        int
	On             vehicle.Date
	Record         *ShimRecord // nil to record nothing
}

// Shims prints which pack to fit, why, and what goes with the work; and records
// it, where that is asked for. That no pack comes into the window is a refusal,
// like that of a part.
func (c *Console) Shims(ctx context.Context, serial string, q ShimQuestion) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	var onRecord packOnRecord
	if q.Pack == "" && q.Fitted == "" {
		if onRecord = c.packThatIsIn(ctx, serialOf(name), &q); onRecord.usable(&q) {
			q.Pack = onRecord.thickness
		}
	}
	request, err := q.request(name, onRecord.offer())
	if err != nil {
		return err
	}
	if err := q.Record.check(); err != nil {
		return err
	}
	answer, err := c.Parts.SelectShims(ctx, request)
	if err != nil {
		return err
	}
	if q.Record != nil {
		return c.recordShims(ctx, request, answer, q)
	}
	note := ""
	if onRecord.usable(&q) {
		note = onRecord.words()
	}
	err = c.print(answer, func(s *sheet) { shimAnswer(s, answer, note) })
	if len(answer.GetPacks()) == 0 && !answer.GetWithin() {
		return errors.Join(err, ErrRefused)
	}
	return err
}

// request reads the question; everything that cannot be read is in the refusal,
// with what is on record of a pack that was not said.
func (q *ShimQuestion) request(build, onRecord string) (*partsv1.SelectShimsRequest, error) {
	var r shimReader
	request := &partsv1.SelectShimsRequest{
		Build: build, Position: asPosition(q.Position), Characteristic: q.Characteristic, Subject: q.Subject,
		Reuse: q.Reuse, Target: q.Target, LargestCount: int32(q.Largest), OnDate: vehiclewire.DateProto(q.On),
	}
	measured := strings.TrimSpace(q.Measured)
	if rest, ok := strings.CutPrefix(measured, "minus "); ok { // a shell takes -0.04mm for a flag
		measured = "-" + strings.TrimSpace(rest)
	}
	request.Measured = vehiclewire.QuantityProto(r.quantity("measured", measured))
	request.FittedPack = vehiclewire.QuantityProto(r.quantity("pack", q.Pack))
	for _, one := range r.counted("fitted", q.Fitted) {
		held := &partsv1.ShimCount{Thickness: vehiclewire.QuantityProto(one.Size), Count: int32(one.Count)}
		if one.Part != "" {
			held.Part = "parts/" + one.Part
		}
		request.FittedShims = append(request.FittedShims, held)
	}
	for _, one := range r.counted("stock", q.Stock) {
		size := &partsv1.ShimSize{Thickness: vehiclewire.QuantityProto(one.Size)}
		if one.Part != "" {
			size.Part = "parts/" + one.Part
		}
		if one.Count > 0 {
			n := int32(one.Count)
			size.Stock = &n
		}
		request.Sizes = append(request.Sizes, size)
	}
	request.Lower, request.Upper = r.window(q.Window)
	switch q.Rule {
	case "":
	case "fewest":
		request.Rule = partsv1.ShimRule_SHIM_RULE_FEWEST_THEN_NEAREST
	case "nearest":
		request.Rule = partsv1.ShimRule_SHIM_RULE_NEAREST_THEN_FEWEST
	default:
		r.refuse("rule", q.Rule, "fewest or nearest")
	}
	if (q.Pack == "") == (q.Fitted == "") {
		r.refuse("pack", strings.TrimSpace(q.Pack+" "+q.Fitted), "the pack that is fitted: --pack 0.76mm, or its shims: --fitted \"0.51 mm x1; 0.25 mm x1\""+onRecord)
	}
	return request, fault.InvalidFields(r.wrong)
}

// shimReader reads what was typed and keeps what is wrong with it.
type shimReader struct{ wrong []fault.Field }

func (r *shimReader) refuse(name, got, want string) {
	r.wrong = append(r.wrong, fault.Field{Name: name, Got: got, Want: want})
}

// quantity reads a value with its unit; nothing typed is the zero quantity.
func (r *shimReader) quantity(name, text string) vehicle.Quantity {
	if text == "" {
		return vehicle.Quantity{}
	}
	q, err := vehicle.ParseQuantity(text)
	if err != nil {
		r.refuse(name, text, fault.FieldsOf("", err)[0].Want)
	}
	return q
}

func (r *shimReader) counted(name, text string) []vehicle.Counted {
	all, err := vehicle.ParseCounted(text)
	for _, f := range fault.FieldsOf("", err) {
		r.refuse(name, f.Got, f.Want)
	}
	if text != "" && err == nil && len(all) == 0 {
		r.refuse(name, text, "sizes with how many of each: 0.25 mm x2; 0.13 mm")
	}
	return all
}

// window reads "0.05..0.10 mm": the unit may stand at the end for both, with
// each, or not at all, which means that of the setting.
func (r *shimReader) window(text string) (lower, upper string) {
	if text == "" {
		return "", ""
	}
	lower, upper, ok := strings.Cut(text, "..")
	lower, upper = strings.TrimSpace(lower), strings.TrimSpace(upper)
	if !ok || lower == "" || upper == "" {
		r.refuse("window", text, "the lower and the upper end, as in 0.05..0.10 mm")
		return "", ""
	}
	if q, err := vehicle.ParseQuantity(upper); err == nil {
		if d, err := vehicle.ParseDecimal(lower); err == nil {
			lower = vehicle.Quantity{Value: d, Unit: q.Unit}.String()
		}
	}
	return lower, upper
}

// shimAnswer prints the answer, with a note about the pack that it starts from
// where there is one.
func shimAnswer(s *sheet, a *partsv1.ShimSelection, note string) {
	setting := a.GetSetting()
	what := setting.GetCharacteristic()
	if setting.GetSubject() != "" {
		what += " of the " + setting.GetSubject()
	}
	s.line("%s, %s of the %s, on %s", serialOf(a.GetBuild()), place(what), place(a.GetPosition()), day(a.GetOnDate()))
	needed := about(a.GetNeededRounded()) + quantity(a.GetNeededPack()) + " of shims"
	if strings.HasPrefix(a.GetNeededPack().GetValue(), "-") {
		needed = "less than no shim at all"
	}
	s.text("  needed  ", needed+", in place of "+quantity(a.GetFittedPack()))
	s.text("  PACK    ", note)
	verb := "  FIT     "
	if a.GetWithin() {
		s.text("  LEAVE   ", "the fitted pack is in the window, and may stay")
		verb = "  or fit  "
	}
	for i, p := range a.GetPacks() {
		number := ""
		if len(a.GetPacks()) > 1 {
			number = fmt.Sprintf("%d. ", i+1)
		}
		s.text(verb, number+packText(p)+", which gives "+about(p.GetRounded())+quantity(p.GetResult()))
		verb = "  or      "
	}
	if len(a.GetPacks()) == 0 && !a.GetWithin() {
		s.text("  NONE    ", "of the packs that can be made comes into the window")
	}
	for _, r := range a.GetReasons() {
		s.text("  why     ", r.GetSentence()+toHave(r))
	}
	for _, r := range a.GetLookFor() {
		s.text("  look    ", r.GetSentence())
	}
	for _, text := range a.GetRenewWith() {
		s.text("  renew   ", text)
	}
	if a.GetCaution() != "" {
		s.text("  CAUTION ", a.GetCaution())
	}
	if setting.GetSample() {
		s.text("  SAMPLE  ", "No engineer has signed this setting.")
	}
}

// toHave says how to be given the pack of a few shims more: it is the nearest of
// those with as many.
func toHave(r *vehiclev1.Reason) string {
	for _, f := range r.GetFacts() {
		if r.GetRule() == "NEARER_WITH_MORE_SHIMS" && f.GetName() == "count" {
			return " To be given it: --rule nearest --largest " + f.GetValue() + "."
		}
	}
	return ""
}

// about stands before a number that is rounded.
func about(rounded bool) string {
	if rounded {
		return "about "
	}
	return ""
}

// packText writes a pack with the part numbers of its shims: "2 x 0.08 mm
// (AP-2073) + 0.51 mm (AP-2076) = 0.67 mm".
func packText(p *partsv1.ShimPack) string {
	var shims []string
	pieces := int32(0)
	for _, one := range p.GetShims() {
		text := quantity(one.GetThickness())
		if one.GetCount() > 1 {
			text = fmt.Sprintf("%d x %s", one.GetCount(), text)
		}
		var notes []string
		if one.GetPart() != "" {
			notes = append(notes, idOf(one.GetPart()))
		}
		if n := one.GetFromFitted(); n > 0 {
			notes = append(notes, fmt.Sprintf("%d of the fitted pack", n))
		}
		if len(notes) > 0 {
			text += " (" + strings.Join(notes, ", ") + ")"
		}
		shims, pieces = append(shims, text), pieces+one.GetCount()
	}
	text := strings.Join(shims, " + ")
	if pieces > 1 {
		text += " = " + quantity(p.GetThickness())
	}
	return text
}
