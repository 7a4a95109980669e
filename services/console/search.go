package console

import (
	"context"
	"fmt"
	"strings"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Search prints parts found by number or words, in the whole catalogue or
// among what fits one vehicle.
func (c *Console) Search(ctx context.Context, query, serial string, on vehicle.Date, most int32) error {
	req := &partsv1.SearchPartsRequest{Query: query, OnDate: vehiclewire.DateProto(on), PageSize: most}
	if serial != "" {
		name, err := c.open(ctx, serial)
		if err != nil {
			return err
		}
		req.Build = name
	}
	resp, err := c.Parts.SearchParts(ctx, req)
	if err != nil {
		return err
	}
	return c.print(resp, func(s *sheet) {
		if len(resp.GetFound()) == 0 {
			s.line("Nothing was found for %q%s.", query, onVehicle(req.GetBuild()))
			if serial, words := leadingSerial(query); serial != "" && req.GetBuild() == "" {
				s.line("%s is a vehicle. To search what fits it: halfshaft search --vehicle %s %s", serial, serial, words)
			}
			return
		}
		var rows [][]string
		for _, f := range resp.GetFound() {
			rows = append(rows, []string{idOf(f.GetPart().GetName()), partTitle(f.GetPart()), matchWords[f.GetMatch()], places(f.GetPositions())})
		}
		s.line("%s for %q%s, the best first", plural(len(rows), "part", "parts"), query, onVehicle(req.GetBuild()))
		s.table("  ", rows)
	})
}

// leadingSerial takes a serial, in one word or as spoken in several, off the
// beginning of a query, and gives what is left; empty when there is none.
func leadingSerial(query string) (serial vehicle.Serial, words string) {
	list := strings.Fields(query)
	const most = 4 // am 01 47 p
	for n := 1; n <= min(most, len(list)); n++ {
		if s, err := vehicle.ParseSerial(strings.Join(list[:n], " ")); err == nil {
			words = strings.Join(list[n:], " ")
			if words == "" {
				words = "WORDS"
			}
			return s, words
		}
	}
	return "", ""
}

func onVehicle(build string) string {
	if build == "" {
		return ""
	}
	return " on " + serialOf(build)
}

// places names the first positions of a part.
func places(positions []string) string {
	const most = 2
	var out []string
	for _, p := range positions[:min(most, len(positions))] {
		out = append(out, place(p))
	}
	if more := len(positions) - most; more > 0 {
		out = append(out, fmt.Sprintf("%d more", more))
	}
	return strings.Join(out, "; ")
}

var matchWords = map[partsv1.PartMatch]string{
	partsv1.PartMatch_PART_MATCH_NUMBER: "by its number", partsv1.PartMatch_PART_MATCH_OTHER_NUMBER: "by another number of it",
	partsv1.PartMatch_PART_MATCH_SUPERSESSION: "by supersession", partsv1.PartMatch_PART_MATCH_WORDS: "by its words",
	partsv1.PartMatch_PART_MATCH_BEGINNING: "by beginnings of words", partsv1.PartMatch_PART_MATCH_MISSPELT: "by one wrong letter",
	partsv1.PartMatch_PART_MATCH_NEAR_NUMBER: "a number one character away",
}

// CheckCatalogue prints everything that is wrong with the catalogue against
// the releases there are.
func (c *Console) CheckCatalogue(ctx context.Context) error {
	resp, err := c.Parts.CheckCatalogue(ctx, &partsv1.CheckCatalogueRequest{})
	if err != nil {
		return err
	}
	if err := c.print(resp, func(s *sheet) {
		if len(resp.GetFaults()) == 0 {
			s.line("Nothing is wrong with the catalogue: for every release and set of options each position gives one part, or says why none.")
			return
		}
		s.line("%s in the catalogue:", plural(len(resp.GetFaults()), "fault", "faults"))
		for _, f := range resp.GetFaults() {
			s.text("  ", fmt.Sprintf("%s: got %q, want %s", f.GetField(), f.GetGot(), f.GetWant()))
		}
	}); err != nil {
		return err
	}
	if len(resp.GetFaults()) > 0 {
		return ErrRefused
	}
	return nil
}
