package partsrpc

import (
	"context"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/parts"
	"halfshaft/services/parts/partsstore"
)

const (
	standardPage = 50
	largestPage  = 500
)

// listRequest is what every request for a page has.
type listRequest interface {
	proto.Message
	GetPageSize() int32
	GetPageToken() string
}

// listing is how one kind of record is listed.
type listing[R, M any] struct {
	after func(c *parts.Catalogue, key string, n int) []R
	proto func(R) M
	key   func(R) string
	only  func(R) bool // nil: all
}

// list gives a page of records in order of their keys.
func list[R, M any](s *Service, req listRequest, l listing[R, M]) (records []M, next string, err error) {
	size, err := page.Size(req.GetPageSize(), standardPage, largestPage)
	if err != nil {
		return nil, "", err
	}
	last, err := page.After(req, req.GetPageToken())
	if err != nil {
		return nil, "", err
	}
	var found []R
	s.store.Read(func(c *parts.Catalogue) {
		most := size + 1
		if l.only != nil {
			most = largestPage
		}
		for len(found) <= size {
			some := l.after(c, last, most)
			for _, r := range some {
				if last = l.key(r); l.only == nil || l.only(r) {
					found = append(found, r)
				}
			}
			if len(some) < most {
				return
			}
		}
	})
	for _, r := range found[:min(size, len(found))] {
		records = append(records, l.proto(r))
	}
	if len(found) > size {
		next = page.Token(req, l.key(found[size-1]))
	}
	return records, next, nil
}

// ListParts implements the API.
func (s *Service) ListParts(_ context.Context, req *partsv1.ListPartsRequest) (*partsv1.ListPartsResponse, error) {
	records, next, err := list(s, req, listing[*parts.Part, *partsv1.Part]{
		after: (*parts.Catalogue).PartsAfter, proto: partsstore.PartProto, key: (*parts.Part).Key,
	})
	return &partsv1.ListPartsResponse{Parts: records, NextPageToken: next}, err
}

// partNamed reads the part that a list is about; "" for all.
func partNamed(name string) (string, error) {
	if name == "" {
		return "", nil
	}
	number, ok := strings.CutPrefix(name, "parts/")
	if !ok || number == "" {
		return "", fault.InvalidField("part", name, "parts/NUMBER, as in parts/AP-2041, or nothing")
	}
	return number, nil
}

// ListSupersessions implements the API.
func (s *Service) ListSupersessions(_ context.Context, req *partsv1.ListSupersessionsRequest) (*partsv1.ListSupersessionsResponse, error) {
	l := listing[*parts.Supersession, *partsv1.Supersession]{
		after: (*parts.Catalogue).SupersessionsAfter, proto: partsstore.SupersessionProto, key: (*parts.Supersession).Key,
	}
	if number, err := partNamed(req.GetPart()); err != nil {
		return nil, err
	} else if number != "" {
		l.only = func(x *parts.Supersession) bool {
			return x.Old == number || slices.Contains(x.AlsoOld, number) || slices.ContainsFunc(x.New, func(line parts.Line) bool { return line.Part == number })
		}
	}
	records, next, err := list(s, req, l)
	return &partsv1.ListSupersessionsResponse{Supersessions: records, NextPageToken: next}, err
}

// ListPositions implements the API.
func (s *Service) ListPositions(_ context.Context, req *partsv1.ListPositionsRequest) (*partsv1.ListPositionsResponse, error) {
	records, next, err := list(s, req, listing[*parts.Position, *partsv1.Position]{
		after: func(c *parts.Catalogue, key string, n int) []*parts.Position { return c.Positions().After(key, n) },
		proto: partsstore.PositionProto, key: (*parts.Position).Key,
	})
	return &partsv1.ListPositionsResponse{Positions: records, NextPageToken: next}, err
}

// ListApplications implements the API.
func (s *Service) ListApplications(_ context.Context, req *partsv1.ListApplicationsRequest) (*partsv1.ListApplicationsResponse, error) {
	l := listing[*parts.Application, *partsv1.Application]{
		after: func(c *parts.Catalogue, key string, n int) []*parts.Application {
			return c.Applications().After(key, n)
		},
		proto: partsstore.ApplicationProto, key: (*parts.Application).Key,
	}
	if number, err := partNamed(req.GetPart()); err != nil {
		return nil, err
	} else if number != "" {
		l.only = func(x *parts.Application) bool { return x.Part == number }
	}
	records, next, err := list(s, req, l)
	return &partsv1.ListApplicationsResponse{Applications: records, NextPageToken: next}, err
}

// ListSettings implements the API.
func (s *Service) ListSettings(_ context.Context, req *partsv1.ListSettingsRequest) (*partsv1.ListSettingsResponse, error) {
	records, next, err := list(s, req, listing[*parts.Setting, *partsv1.Setting]{
		after: func(c *parts.Catalogue, key string, n int) []*parts.Setting { return c.Settings().After(key, n) },
		proto: partsstore.SettingProto, key: (*parts.Setting).Key,
	})
	return &partsv1.ListSettingsResponse{Settings: records, NextPageToken: next}, err
}

// ListCapacities implements the API.
func (s *Service) ListCapacities(_ context.Context, req *partsv1.ListCapacitiesRequest) (*partsv1.ListCapacitiesResponse, error) {
	records, next, err := list(s, req, listing[*parts.Capacity, *partsv1.Capacity]{
		after: func(c *parts.Catalogue, key string, n int) []*parts.Capacity { return c.Capacities().After(key, n) },
		proto: partsstore.CapacityProto, key: (*parts.Capacity).Key,
	})
	return &partsv1.ListCapacitiesResponse{Capacities: records, NextPageToken: next}, err
}
