package partsrpc

import (
	"context"
	"fmt"
	"strings"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/staging"
	"halfshaft/services/parts/partsstore"
)

// StageImport implements the API. Each row is checked by itself; what it names
// elsewhere is checked by CommitImport.
func (s *Service) StageImport(ctx context.Context, req *partsv1.StageImportRequest) (*partsv1.StageImportResponse, error) {
	if n := len(req.GetRows()); n == 0 || n > staging.MaxRows {
		return nil, fault.InvalidField("rows", fmt.Sprintf("%d rows", n), fmt.Sprintf("1 to %d", staging.MaxRows))
	}
	var rows partsstore.Rows
	if faults := read(&rows, req); len(faults) > 0 {
		return nil, fault.InvalidFields(faults)
	}
	chunk, err := proto.MarshalOptions{Deterministic: true}.Marshal(req)
	if err != nil {
		return nil, fmt.Errorf("marshal a chunk: %w", err)
	}
	if len(chunk) > staging.MaxRequestBytes {
		return nil, fault.InvalidField("rows", fmt.Sprintf("%d bytes", len(chunk)), fmt.Sprintf("at most %d bytes in all", staging.MaxRequestBytes))
	}
	staged, err := s.staging.Take(ctx, req.GetImportId(), int(req.GetSequence()), chunk)
	if err != nil {
		return nil, err
	}
	return &partsv1.StageImportResponse{StagedChunks: staged}, nil
}

// read converts a chunk; its faults are named rows[<record>].<path>.
func read(rows *partsstore.Rows, req *partsv1.StageImportRequest) []fault.Field {
	var faults []fault.Field
	for i, row := range req.GetRows() {
		record, wrong := rows.Row(row)
		if record == "" {
			record = fmt.Sprint(i)
		}
		faults = append(faults, fault.FieldsUnder("rows["+record+"]", wrong)...)
	}
	return faults
}

// CommitImport implements the API. The whole catalogue as it would be is
// checked first, and everything wrong with it is told at once; then nothing is
// written.
func (s *Service) CommitImport(ctx context.Context, req *partsv1.CommitImportRequest) (*partsv1.CommitImportResponse, error) {
	s.importing.Lock()
	defer s.importing.Unlock()
	var rows partsstore.Rows
	resp := &partsv1.CommitImportResponse{}
	err := s.staging.Admit(ctx, req.GetImportId(), int(req.GetChunks()), func(chunk []byte) error {
		var staged partsv1.StageImportRequest
		if err := proto.Unmarshal(chunk, &staged); err != nil {
			return fmt.Errorf("a staged chunk cannot be read: %w", err)
		}
		return fault.InvalidFields(read(&rows, &staged))
	}, func() error {
		releases, err := s.releases(ctx)
		if err != nil {
			return err
		}
		written, faults := s.store.Examine(&rows, releases)
		resp.Written, resp.Unchanged = int32(written), int32(rows.Len()-written)
		return fault.InvalidFields(faults)
	})
	if err != nil {
		return nil, err
	}
	return resp, s.group.Wait(ctx, partsstore.Service, s.applied)
}

// releases asks the build service for all releases: an import is judged by
// those that there are, not by those that the following has seen.
func (s *Service) releases(ctx context.Context) (build.ReleaseSet, error) {
	all, err := page.All(func(token string) ([]*buildv1.Release, string, error) {
		resp, err := s.builds.ListReleases(ctx, &buildv1.ListReleasesRequest{PageSize: 100, PageToken: token})
		return resp.GetReleases(), resp.GetNextPageToken(), err
	})
	if err != nil {
		return nil, err
	}
	releases := build.ReleaseSet{}
	for _, m := range all {
		r, err := buildwire.Release(m)
		if err != nil {
			return nil, fmt.Errorf("read release %s: %w", m.GetName(), err)
		}
		releases[r.ID] = &r
	}
	return releases, nil
}

// CheckCatalogue implements the API.
func (s *Service) CheckCatalogue(ctx context.Context, _ *partsv1.CheckCatalogueRequest) (*partsv1.CheckCatalogueResponse, error) {
	releases, err := s.releases(ctx)
	if err != nil {
		return nil, err
	}
	s.importing.Lock() // each examination has a catalogue of its own: many at once would fill the memory
	defer s.importing.Unlock()
	if err := ctx.Err(); err != nil {
		return nil, err // who waited has gone
	}
	_, faults := s.store.Examine(&partsstore.Rows{}, releases)
	resp := &partsv1.CheckCatalogueResponse{}
	for _, f := range faults {
		name := strings.Replace(strings.TrimPrefix(f.Name, "rows["), "]", "", 1)
		resp.Faults = append(resp.Faults, &partsv1.CatalogueFault{Field: name, Got: f.Got, Want: f.Want})
	}
	return resp, nil
}

// Apply implements staging.Applier.
func (s *Service) Apply(ctx context.Context, chunk []byte) error {
	var staged partsv1.StageImportRequest
	if err := proto.Unmarshal(chunk, &staged); err != nil {
		return fmt.Errorf("a committed chunk cannot be read: %w", err)
	}
	var rows partsstore.Rows
	if faults := read(&rows, &staged); len(faults) > 0 {
		return fault.InvalidFields(faults)
	}
	revision, err := s.store.Write(ctx, &rows, s.clock().UTC())
	s.applied = max(s.applied, revision)
	return err
}
