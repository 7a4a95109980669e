package parts

import (
	"fmt"

	"halfshaft/services/build"
	"halfshaft/services/wording"
)

// question asks for what tells apart the applications of a position between
// which nothing on record decides; empty where one does.
func (w *want) question() string {
	if w.site == nil || len(w.candidates) < 2 {
		return ""
	}
	if q := tellingQuestion(w.candidates, w.site.subject); q != "" {
		return q
	}
	var parts []string
	for _, c := range w.candidates {
		parts = append(parts, c.row.what())
	}
	return fmt.Sprintf("The catalogue gives %s for the %s, and nothing on record tells them apart: which number is on the part that is fitted?",
		wording.List(parts, "and"), spoken(w.position))
}

// place is the position whose component bears the lot that is asked for: of
// what has none on record the nearest to the assembly, or else the assembly.
func (s *site) place() string {
	place := s.top().position
	for at := s; at != nil; at = at.on {
		if at.isBare() {
			place = at.position
		}
	}
	return place
}

// isBare says whether something stands there whose lot nobody wrote down; a dash
// is none.
func (s *site) isBare() bool { return s.fitted != nil && build.Fold(s.fitted.Component.Lot) == "" }
