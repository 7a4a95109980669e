package partswire

import (
	"fmt"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/proto"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

func (r *reader) failed(path string, err error) {
	for _, f := range fault.FieldsOf("", err) {
		r.fields = append(r.fields, fault.Field{Name: path, Got: f.Got, Want: f.Want})
	}
}

func (r *reader) date(path string, d *date.Date) vehicle.Date {
	day, err := vehiclewire.Date(d)
	if err != nil {
		r.failed(path, err)
	}
	return day
}

func (r *reader) quantity(path string, q *vehiclev1.Quantity) vehicle.Quantity {
	if q == nil {
		return vehicle.Quantity{}
	}
	quantity, err := vehiclewire.Quantity(q)
	if err != nil {
		r.failed(path, err)
	}
	return quantity
}

func (r *reader) serial(path, text string) vehicle.Serial {
	if text == "" {
		return ""
	}
	s, err := vehicle.ParseSerial(text)
	if err != nil {
		r.fields = append(r.fields, fault.Field{Name: path, Got: text, Want: "a serial with its check character: " + err.Error()})
	}
	return s
}

// optionalID reads a resource name that may be missing.
func (r *reader) optionalID(path, collection, name string) string {
	if name == "" {
		return ""
	}
	return r.id(path, collection, name)
}

// Position reads a position.
func Position(m *partsv1.Position) (parts.Position, error) {
	var r reader
	p := parts.Position{
		ID: r.id("name", "positions", m.GetName()), Title: m.GetTitle(), Within: m.GetWithin(), Words: m.GetWords(),
		Tools: m.GetTools(), Caution: m.GetCaution(), Drawing: m.GetDrawing(), Notes: m.GetNotes(),
		Stamp: r.stamp(m),
	}
	return p, fault.InvalidFields(r.fields)
}

// PositionProto writes a position, without its etag.
func PositionProto(p *parts.Position) *partsv1.Position {
	return &partsv1.Position{
		Name: parts.PositionName(p.ID), Title: p.Title, Within: p.Within, Words: p.Words, Tools: p.Tools, Caution: p.Caution,
		Drawing: p.Drawing, Notes: p.Notes, CreateTime: vehiclewire.MomentProto(p.Created),
	}
}

// Application reads an application.
func Application(m *partsv1.Application) (parts.Application, error) {
	var r reader
	a := parts.Application{
		ID: r.id("name", "applications", m.GetName()), Position: m.GetPosition(), Part: r.optionalID("part", "parts", m.GetPart()),
		Quantity: int(m.GetQuantity()), Conditions: r.conditions(m.GetConditions()), Text: m.GetText(),
		Stamp: r.stamp(m),
	}
	return a, fault.InvalidFields(r.fields)
}

// ApplicationProto writes an application, without its etag.
func ApplicationProto(a *parts.Application) *partsv1.Application {
	m := &partsv1.Application{
		Name: parts.ApplicationName(a.ID), Position: a.Position, Quantity: int32(a.Quantity), Conditions: conditionsProto(&a.Conditions),
		Text: a.Text, CreateTime: vehiclewire.MomentProto(a.Created),
	}
	if a.Part != "" {
		m.Part = parts.PartName(a.Part)
	}
	return m
}

func (r *reader) conditions(m *partsv1.Conditions) parts.Conditions {
	c := parts.Conditions{
		Releases: r.ids("conditions.releases", "releases", m.GetReleases()), Options: m.GetOptions(), Without: m.GetWithoutOptions(),
		AppliesWhen: m.GetAppliesWhen(), FirstSerial: r.serial("conditions.first_serial", m.GetFirstSerial()),
		LastSerial: r.serial("conditions.last_serial", m.GetLastSerial()),
		BuiltFrom:  r.date("conditions.built_from_date", m.GetBuiltFromDate()),
		BuiltUntil: r.date("conditions.built_until_date", m.GetBuiltUntilDate()),
		Markets:    m.GetMarkets(), Lots: m.GetLots(), Together: r.ids("conditions.together_with", "parts", m.GetTogetherWith()),
		Otherwise: m.GetOtherwise(),
	}
	for i, s := range m.GetExceptSerials() {
		c.Except = append(c.Except, r.serial(fmt.Sprintf("conditions.except_serials[%d]", i), s))
	}
	return c
}

// conditionsProto writes conditions; nil when nothing is asked.
func conditionsProto(c *parts.Conditions) *partsv1.Conditions {
	m := &partsv1.Conditions{
		Releases: prefixed("releases/", c.Releases), Options: c.Options, WithoutOptions: c.Without, AppliesWhen: c.AppliesWhen,
		FirstSerial: string(c.FirstSerial), LastSerial: string(c.LastSerial),
		BuiltFromDate: vehiclewire.DateProto(c.BuiltFrom), BuiltUntilDate: vehiclewire.DateProto(c.BuiltUntil),
		Markets: c.Markets, Lots: c.Lots, TogetherWith: prefixed("parts/", c.Together), Otherwise: c.Otherwise,
	}
	for _, s := range c.Except {
		m.ExceptSerials = append(m.ExceptSerials, string(s))
	}
	if proto.Size(m) == 0 {
		return nil
	}
	return m
}

// Setting reads a setting.
func Setting(m *partsv1.Setting) (parts.Setting, error) {
	var r reader
	s := parts.Setting{
		ID: r.id("name", "settings", m.GetName()), Position: m.GetPosition(), Characteristic: m.GetCharacteristic(), Subject: m.GetSubject(),
		Unit: m.GetUnit(), Lower: m.GetLower(), Target: m.GetTarget(), Upper: m.GetUpper(), Conditions: r.conditions(m.GetConditions()),
		Method: m.GetMethod(), Tools: m.GetTools(), Caution: m.GetCaution(), DocRef: m.GetDocRef(), SourceMark: m.GetSourceMark(),
		Sample: m.GetSample(), Shims: r.shims(m), Stamp: r.stamp(m),
	}
	return s, fault.InvalidFields(r.fields)
}

func (r *reader) shims(m *partsv1.Setting) *parts.ShimDesign {
	if m.GetShims() == nil && len(m.GetShimSizes()) == 0 {
		return nil
	}
	d := &parts.ShimDesign{
		Sign: parts.ShimSign(m.GetShims().GetSign()), LoadPerMM: m.GetShims().GetLoadPerMm(),
		Largest: int(m.GetShims().GetLargestCount()), Rule: parts.ShimRule(m.GetShims().GetRule()),
	}
	for i, size := range m.GetShimSizes() {
		at := fmt.Sprintf("shim_sizes[%d]", i)
		one := parts.ShimSize{Thickness: r.quantity(at+".thickness", size.GetThickness()), Part: r.optionalID(at+".part", "parts", size.GetPart())}
		if size.Stock != nil {
			one.Limited, one.Stock = true, int(size.GetStock())
		}
		d.Sizes = append(d.Sizes, one)
	}
	return d
}

// SettingProto writes a setting, without its etag.
func SettingProto(s *parts.Setting) *partsv1.Setting {
	m := &partsv1.Setting{
		Name: parts.SettingName(s.ID), Position: s.Position, Characteristic: s.Characteristic, Subject: s.Subject, Unit: s.Unit,
		Lower: s.Lower, Target: s.Target, Upper: s.Upper, Conditions: conditionsProto(&s.Conditions), Method: s.Method, Tools: s.Tools,
		Caution: s.Caution, DocRef: s.DocRef, SourceMark: s.SourceMark, Sample: s.Sample, CreateTime: vehiclewire.MomentProto(s.Created),
	}
	if d := s.Shims; d != nil {
		m.Shims = &partsv1.ShimDesign{Sign: partsv1.ShimSign(d.Sign), LoadPerMm: d.LoadPerMM, LargestCount: int32(d.Largest), Rule: partsv1.ShimRule(d.Rule)}
		for _, size := range d.Sizes {
			m.ShimSizes = append(m.ShimSizes, ShimSizeProto(size))
		}
	}
	return m
}

// ShimSizeProto writes a size of shim.
func ShimSizeProto(size parts.ShimSize) *partsv1.ShimSize {
	m := &partsv1.ShimSize{Thickness: vehiclewire.QuantityProto(size.Thickness)}
	if size.Part != "" {
		m.Part = parts.PartName(size.Part)
	}
	if size.Limited {
		stock := int32(size.Stock)
		m.Stock = &stock
	}
	return m
}

// Capacity reads a capacity.
func Capacity(m *partsv1.Capacity) (parts.Capacity, error) {
	var r reader
	c := parts.Capacity{
		ID: r.id("name", "capacities", m.GetName()), Position: m.GetPosition(), Fluid: m.GetFluid(), Family: m.GetFamily(),
		Quantity: r.quantity("quantity", m.GetQuantity()), Method: m.GetMethod(), NeverMix: m.GetNeverMix(),
		Conditions: r.conditions(m.GetConditions()), Caution: m.GetCaution(), DocRef: m.GetDocRef(), SourceMark: m.GetSourceMark(),
		Sample: m.GetSample(), Stamp: r.stamp(m),
	}
	return c, fault.InvalidFields(r.fields)
}

// CapacityProto writes a capacity, without its etag.
func CapacityProto(c *parts.Capacity) *partsv1.Capacity {
	return &partsv1.Capacity{
		Name: parts.CapacityName(c.ID), Position: c.Position, Fluid: c.Fluid, Family: c.Family, Quantity: vehiclewire.QuantityProto(c.Quantity),
		Method: c.Method, NeverMix: c.NeverMix, Conditions: conditionsProto(&c.Conditions), Caution: c.Caution, DocRef: c.DocRef,
		SourceMark: c.SourceMark, Sample: c.Sample, CreateTime: vehiclewire.MomentProto(c.Created),
	}
}

func dimensions(list []*partsv1.Dimension) []parts.Dimension {
	var out []parts.Dimension
	for _, d := range list {
		out = append(out, parts.Dimension{Title: d.GetTitle(), Size: d.GetSize()})
	}
	return out
}

func dimensionsProto(list []parts.Dimension) []*partsv1.Dimension {
	var out []*partsv1.Dimension
	for _, d := range list {
		out = append(out, &partsv1.Dimension{Title: d.Title, Size: d.Size})
	}
	return out
}
