package enquirywire

import (
	"slices"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/enquiry"
	"halfshaft/services/vehicle/vehiclewire"
)

// NoteProto writes a note, without its etag.
func NoteProto(n enquiry.Note) *enquiryv1.AnswerNote {
	return &enquiryv1.AnswerNote{
		Name: NoteName(n.ID), Title: n.Title, Text: n.Text, Caution: n.Caution,
		Releases: n.Releases, Positions: n.Positions, Keywords: n.Keywords,
		ReviewedBy: n.ReviewedBy, ReviewTime: vehiclewire.MomentProto(n.Reviewed),
		Sample: n.Sample, Retired: n.Retired, CreateTime: vehiclewire.MomentProto(n.Created),
	}
}

// AskedNote reads what a caller says of a note.
func AskedNote(p *enquiryv1.AnswerNote) (enquiry.Note, error) {
	id, err := NoteID("name", p.GetName())
	if err != nil {
		return enquiry.Note{}, err
	}
	return enquiry.Note{
		ID: id, Title: p.GetTitle(), Text: p.GetText(), Caution: p.GetCaution(),
		Releases: slices.Clone(p.GetReleases()), Positions: slices.Clone(p.GetPositions()), Keywords: slices.Clone(p.GetKeywords()),
		Sample: p.GetSample(), Retired: p.GetRetired(),
	}, nil
}

// Note reads a note that NoteProto wrote.
func Note(p *enquiryv1.AnswerNote) (enquiry.Note, error) {
	n, err := AskedNote(p)
	n.ReviewedBy, n.Reviewed, n.Created = p.GetReviewedBy(), vehiclewire.Moment(p.GetReviewTime()), vehiclewire.Moment(p.GetCreateTime())
	return n, err
}
