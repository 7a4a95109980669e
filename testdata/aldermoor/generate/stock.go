package main

import (
	"maps"
	"slices"
	"strings"
)

// stock collects the parts and where each may stand, before they are written:
// one part may stand at several places.
type stock struct {
	rows      []cells
	known     map[string]int
	positions map[string][]string
}

func newStock() *stock { return &stock{known: map[string]int{}, positions: map[string][]string{}} }

// part takes a part in, the first time that it is met. Whoever places it adds
// the positions by at, or gives them in the row.
func (s *stock) part(c cells) {
	if _, ok := s.known[c["part"]]; ok {
		return
	}
	s.known[c["part"]] = len(s.rows)
	s.rows = append(s.rows, c)
}

// get gives the row of a part that is there.
func (s *stock) get(number string) cells {
	i, ok := s.known[number]
	if !ok {
		panic("generate: no part " + number)
	}
	return s.rows[i]
}

// at says that a part stands at a position.
func (s *stock) at(number, position string) {
	if !slices.Contains(s.positions[number], position) {
		s.positions[number] = append(s.positions[number], position)
	}
}

// where lists the positions of a part.
func (s *stock) where(number string) string {
	if at := s.positions[number]; len(at) > 0 {
		return strings.Join(at, "; ")
	}
	return s.get(number)["positions"]
}

// write puts the parts and their sizes into their tables. What stands on the
// left and on the right has no hand.
func (s *stock) write(w *works) {
	for _, number := range slices.Sorted(maps.Keys(s.positions)) {
		s.get(number) // or panic
	}
	for _, c := range s.rows {
		row := maps.Clone(c)
		delete(row, "sizes")
		row["positions"] = s.where(c["part"])
		if row["hand"] != "" && onBothSides(s.positions[c["part"]]) {
			row["hand"] = ""
		}
		w.add("parts", row, partColumns...)
		for size := range strings.SplitSeq(c["sizes"], "; ") {
			if name, value, ok := strings.Cut(size, " "); ok {
				w.add("dimensions", cells{"part": c["part"], "dimension": name, "size": value}, "part", "dimension", "size")
			}
		}
	}
}

func onBothSides(positions []string) bool {
	left, right := false, false
	for _, p := range positions {
		left = left || strings.Contains(p+"-", "-left-")
		right = right || strings.Contains(p+"-", "-right-")
	}
	return left && right
}
