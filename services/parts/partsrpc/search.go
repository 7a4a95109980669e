package partsrpc

import (
	"context"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/parts"
	"halfshaft/services/parts/partsstore"
)

const (
	standardFound = 20
	largestFound  = 100
)

// SearchParts implements the API.
func (s *Service) SearchParts(ctx context.Context, req *partsv1.SearchPartsRequest) (*partsv1.SearchPartsResponse, error) {
	query, err := words("query", req.GetQuery(), "a part number or words")
	if err != nil {
		return nil, err
	}
	size, err := page.Size(req.GetPageSize(), standardFound, largestFound)
	if err != nil {
		return nil, err
	}
	resp := &partsv1.SearchPartsResponse{}
	if req.GetBuild() == "" {
		s.store.Read(func(c *parts.Catalogue) {
			for _, f := range c.Search(query, size) {
				resp.Found = append(resp.Found, found(f, nil))
			}
		})
		return resp, nil
	}
	return resp, s.about(ctx, req.GetBuild(), req.GetOnDate(), func(r *parts.Ready) error {
		for _, f := range r.Search(query, size) {
			resp.Found = append(resp.Found, found(f.Found, f.Positions))
		}
		return nil
	})
}

func found(f parts.Found, positions []string) *partsv1.FoundPart {
	return &partsv1.FoundPart{Part: partsstore.PartProto(f.Part), Match: matches[f.Met], Positions: positions}
}

var matches = map[parts.Met]partsv1.PartMatch{
	parts.ByNumber:       partsv1.PartMatch_PART_MATCH_NUMBER,
	parts.ByOtherNumber:  partsv1.PartMatch_PART_MATCH_OTHER_NUMBER,
	parts.BySupersession: partsv1.PartMatch_PART_MATCH_SUPERSESSION,
	parts.Exactly:        partsv1.PartMatch_PART_MATCH_WORDS,
	parts.ByBeginnings:   partsv1.PartMatch_PART_MATCH_BEGINNING,
	parts.ByWrongLetter:  partsv1.PartMatch_PART_MATCH_MISSPELT,
	parts.ByNearNumber:   partsv1.PartMatch_PART_MATCH_NEAR_NUMBER,
}
