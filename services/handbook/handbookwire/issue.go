package handbookwire

import (
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/handbook"
	"halfshaft/services/vehicle/vehiclewire"
)

// ChangesProto writes what differs from the issue before.
func ChangesProto(all []handbook.Change) []*handbookv1.HandbookChange {
	var out []*handbookv1.HandbookChange
	for _, c := range all {
		out = append(out, &handbookv1.HandbookChange{
			SectionId: c.Section, Title: c.Title, Kind: handbookv1.HandbookChangeKind(c.Kind), Sentence: c.Sentence,
		})
	}
	return out
}

// Changes reads what ChangesProto wrote.
func Changes(all []*handbookv1.HandbookChange) []handbook.Change {
	var out []handbook.Change
	for _, c := range all {
		out = append(out, handbook.Change{Section: c.GetSectionId(), Title: c.GetTitle(), Kind: handbook.ChangeKind(c.GetKind()), Sentence: c.GetSentence()})
	}
	return out
}

// ChoicesProto writes why sections are in a handbook or are not.
func ChoicesProto(all []handbook.Choice) []*handbookv1.SectionChoice {
	var out []*handbookv1.SectionChoice
	for _, c := range all {
		out = append(out, &handbookv1.SectionChoice{
			SectionId: c.Section, Title: c.Title, Included: c.Included, Reason: vehiclewire.ReasonProto(c.Reason),
		})
	}
	return out
}
