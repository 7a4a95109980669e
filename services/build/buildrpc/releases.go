package buildrpc

import (
	"context"
	"time"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildstore"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/resname"
)

// GetRelease implements the BuildService.
func (s *Service) GetRelease(_ context.Context, r *buildv1.GetReleaseRequest) (*buildv1.Release, error) {
	ids, err := resname.Match("name", "releases/{release}", r.GetName())
	if err != nil {
		return nil, err
	}
	return s.store.Release(ids[0])
}

// ListReleases implements the BuildService.
func (s *Service) ListReleases(_ context.Context, r *buildv1.ListReleasesRequest) (*buildv1.ListReleasesResponse, error) {
	var all []*buildv1.Release
	for _, id := range s.store.ReleaseIDs() {
		release, err := s.store.Release(id)
		if err != nil {
			return nil, err
		}
		all = append(all, release)
	}
	few, next, err := cut(r, r.GetPageSize(), r.GetPageToken(), all)
	if err != nil {
		return nil, err
	}
	return &buildv1.ListReleasesResponse{Releases: few, NextPageToken: next}, nil
}

// CreateRelease implements the BuildService.
func (s *Service) CreateRelease(ctx context.Context, r *buildv1.CreateReleaseRequest) (*buildv1.Release, error) {
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &buildv1.Release{}, func(made time.Time) (*buildv1.Release, kv.Result, error) {
		release, err := buildwire.Release(r.GetRelease())
		wrong := append(build.CheckRelease(&release), tooLarge("fitments", r.GetRelease())...)
		if err := refuse("release", err, wrong); err != nil {
			return nil, kv.Result{}, err
		}
		release.Created = made
		answer := buildwire.ReleaseProto(release)
		result, err := s.store.CreateRelease(ctx, buildstore.Request{ID: r.GetRequestId(), Payload: r, Answer: answer}, release)
		if fault.Is(err, fault.AlreadyExists) {
			err = fault.New(fault.AlreadyExists, "RELEASE_EXISTS",
				"There is a release %s already, and a release never changes: give the new one a name of its own.", release.ID)
		}
		return answer, result, err
	})
	if err != nil {
		return nil, err
	}
	answer.Etag = kv.Etag(result.Revision)
	return answer, nil
}
