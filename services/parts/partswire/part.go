// Package partswire converts parts, supersessions and answers between
// services/parts and its protos.
//
// Towards the domain its error, a fault of kind Invalid, lists every field
// whose form is wrong; whether the values make sense is for services/parts.
package partswire

import (
	"fmt"
	"strings"

	"google.golang.org/protobuf/types/known/timestamppb"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/fault"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle/vehiclewire"
)

// reader collects what is wrong while a message is read.
type reader struct{ fields []fault.Field }

// id reads the identifier of a resource name, "parts/AP-2041".
func (r *reader) id(path, collection, name string) string {
	id, ok := strings.CutPrefix(name, collection+"/")
	if !ok || id == "" || strings.ContainsAny(id, "/ \t\r\n") {
		r.fields = append(r.fields, fault.Field{Name: path, Got: name, Want: collection + "/{id}"})
		return ""
	}
	return id
}

func (r *reader) ids(path, collection string, names []string) []string {
	var out []string
	for i, name := range names {
		out = append(out, r.id(fmt.Sprintf("%s[%d]", path, i), collection, name))
	}
	return out
}

func (r *reader) lines(path string, lines []*partsv1.KitLine) []parts.Line {
	var out []parts.Line
	for i, l := range lines {
		out = append(out, parts.Line{
			Part: r.id(fmt.Sprintf("%s[%d].part", path, i), "parts", l.GetPart()), Quantity: int(l.GetQuantity()),
		})
	}
	return out
}

// stamp reads when a record was made; the revision is not in its message.
func (r *reader) stamp(m interface {
	GetCreateTime() *timestamppb.Timestamp
	GetWithdrawn() bool
}) parts.Stamp {
	stamp, t := parts.Stamp{Withdrawn: m.GetWithdrawn()}, m.GetCreateTime()
	if t == nil {
		return stamp
	}
	if err := t.CheckValid(); err != nil {
		r.fields = append(r.fields, fault.Field{Name: "create_time", Got: t.String(), Want: "a moment of the years 1 to 9999"})
		return stamp
	}
	stamp.Created = t.AsTime()
	return stamp
}

// Part reads a part. Revision is not in the message.
func Part(p *partsv1.Part) (parts.Part, error) {
	var r reader
	part := parts.Part{
		Number: r.id("name", "parts", p.GetName()), Title: p.GetTitle(), Words: p.GetWords(), Positions: p.GetPositions(),
		Hand: parts.Hand(p.GetHand()), Unit: p.GetUnit(), Minimum: int(p.GetMinimumQuantity()), Status: parts.Status(p.GetStatus()),
		Drawing: p.GetDrawing(), Contents: r.lines("contents", p.GetContents()), RenewWith: r.lines("renew_with", p.GetRenewWith()),
		Releases: r.ids("releases", "releases", p.GetReleases()), Caution: p.GetCaution(), Notes: p.GetNotes(),
		Traits: p.GetTraits(), OtherNumbers: p.GetOtherNumbers(), Weight: r.quantity("weight", p.GetWeight()),
		Dimensions: dimensions(p.GetDimensions()), Stamp: r.stamp(p),
	}
	return part, fault.InvalidFields(r.fields)
}

// PartProto writes a part, without its etag, which its store gives.
func PartProto(p *parts.Part) *partsv1.Part {
	return &partsv1.Part{
		Name: parts.PartName(p.Number), Title: p.Title, Words: p.Words, Positions: p.Positions,
		Hand: partsv1.Hand(p.Hand), Unit: p.Unit, MinimumQuantity: int32(p.Minimum), Status: partsv1.PartStatus(p.Status),
		Drawing: p.Drawing, Contents: LinesProto(p.Contents), RenewWith: LinesProto(p.RenewWith),
		Releases: prefixed("releases/", p.Releases), Caution: p.Caution, Notes: p.Notes, Traits: p.Traits,
		OtherNumbers: p.OtherNumbers, Weight: vehiclewire.QuantityProto(p.Weight), Dimensions: dimensionsProto(p.Dimensions),
		CreateTime: vehiclewire.MomentProto(p.Created),
	}
}

// Supersession reads a supersession. Revision is not in the message.
func Supersession(s *partsv1.Supersession) (parts.Supersession, error) {
	var r reader
	out := parts.Supersession{
		ID: r.id("name", "supersessions", s.GetName()), Old: r.id("old_part", "parts", s.GetOldPart()),
		New: r.lines("new_parts", s.GetNewParts()), Effective: r.date("effective_date", s.GetEffectiveDate()), TwoWay: s.GetTwoWay(),
		Releases: r.ids("releases", "releases", s.GetReleases()), Together: r.ids("together_with", "parts", s.GetTogetherWith()),
		Text: s.GetText(), AlsoOld: r.ids("also_old_parts", "parts", s.GetAlsoOldParts()), OldStock: parts.OldStock(s.GetOldStock()),
		Stamp: r.stamp(s),
	}
	return out, fault.InvalidFields(r.fields)
}

// SupersessionProto writes a supersession, without its etag.
func SupersessionProto(s *parts.Supersession) *partsv1.Supersession {
	return &partsv1.Supersession{
		Name: parts.SupersessionName(s.ID), OldPart: parts.PartName(s.Old), NewParts: LinesProto(s.New),
		EffectiveDate: vehiclewire.DateProto(s.Effective), TwoWay: s.TwoWay, Releases: prefixed("releases/", s.Releases),
		TogetherWith: prefixed("parts/", s.Together), Text: s.Text, AlsoOldParts: prefixed("parts/", s.AlsoOld),
		OldStock: partsv1.OldStock(s.OldStock), CreateTime: vehiclewire.MomentProto(s.Created),
	}
}

// LinesProto writes lines.
func LinesProto(lines []parts.Line) []*partsv1.KitLine {
	var out []*partsv1.KitLine
	for _, l := range lines {
		out = append(out, &partsv1.KitLine{Part: parts.PartName(l.Part), Quantity: int32(l.Quantity)})
	}
	return out
}

func prefixed(prefix string, ids []string) []string {
	var out []string
	for _, id := range ids {
		out = append(out, prefix+id)
	}
	return out
}
