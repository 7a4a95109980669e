package buildrpc

import (
	"context"
	"time"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/access"
	"halfshaft/services/build"
	"halfshaft/services/build/buildstore"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// The pages of lists.
const (
	standardPage = 50
	mostPage     = 500
	// pageBytes ends a page early: answers stay below the 4 MiB that gRPC
	// clients take.
	pageBytes = 2 << 20
)

const buildPattern = "builds/{serial}"

// GetBuild implements the BuildService.
func (s *Service) GetBuild(ctx context.Context, r *buildv1.GetBuildRequest) (*buildv1.Build, error) {
	serial, _, err := resname.Serial("name", buildPattern, r.GetName())
	if err != nil {
		return nil, err
	}
	b, err := s.store.Build(serial)
	return vehiclewire.Alone(ctx, serial, b), err
}

// ListBuilds implements the BuildService.
func (s *Service) ListBuilds(_ context.Context, r *buildv1.ListBuildsRequest) (*buildv1.ListBuildsResponse, error) {
	size, err := page.Size(r.GetPageSize(), standardPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	answer, bytes := &buildv1.ListBuildsResponse{}, 0
	serials := s.store.SerialsAfter(vehicle.Serial(after), size+1)
	for i, serial := range serials {
		if i == size || bytes > pageBytes {
			answer.NextPageToken = page.Token(r, string(serials[i-1]))
			break
		}
		b, err := s.store.Build(serial)
		if err != nil {
			return nil, err
		}
		answer.Builds = append(answer.Builds, b)
		bytes += proto.Size(b)
	}
	return answer, nil
}

// CreateBuild implements the BuildService.
func (s *Service) CreateBuild(ctx context.Context, r *buildv1.CreateBuildRequest) (*buildv1.Build, error) {
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &buildv1.Build{}, func(made time.Time) (*buildv1.Build, kv.Result, error) {
		rec, err := s.readRecord(r.GetBuild())
		if err != nil {
			return nil, kv.Result{}, err
		}
		if s.store.Exists(rec.Serial) {
			return nil, kv.Result{}, fault.New(fault.AlreadyExists, "BUILD_EXISTS",
				"There is a record of %s already: amend it instead.", rec.Serial)
		}
		if err := s.holds.check(ctx, rec.Serial, rec.Delivered, nothing); err != nil {
			return nil, kv.Result{}, err
		}
		rec.Created = made
		answer := buildwire.RecordProto(rec)
		result, err := s.store.Commit(ctx, buildstore.Request{ID: r.GetRequestId(), Payload: r, Answer: answer}, buildstore.Write{Record: &rec})
		return answer, result, fault.Under("build", err)
	})
	if err != nil {
		return nil, err
	}
	answer.Etag = kv.Etag(result.Revision)
	return answer, nil
}

// readRecord reads a record that somebody sent, and refuses it with all that is
// wrong with it.
func (s *Service) readRecord(b *buildv1.Build) (build.Record, error) {
	rec, err := buildwire.Record(b)
	wrong := append(build.CheckRecord(&rec, s.store.Releases()), tooLarge("components", b)...)
	return rec, refuse("build", err, wrong)
}

// AmendBuild implements the BuildService.
func (s *Service) AmendBuild(ctx context.Context, r *buildv1.AmendBuildRequest) (*buildv1.Amendment, error) {
	answer, _, err := once(ctx, s, r.GetRequestId(), r, &buildv1.Amendment{}, func(made time.Time) (*buildv1.Amendment, kv.Result, error) {
		w, err := s.amend(ctx, r, made)
		if err != nil {
			return nil, kv.Result{}, err
		}
		answer := buildwire.AmendmentProto(w.Amendments[0])
		result, err := s.store.Commit(ctx, buildstore.Request{ID: r.GetRequestId(), Payload: r, Answer: answer}, w)
		return answer, result, fault.Under("build", err)
	})
	return answer, err
}

// amend decides about an amendment.
func (s *Service) amend(ctx context.Context, r *buildv1.AmendBuildRequest, made time.Time) (buildstore.Write, error) {
	serial, _, err := resname.Serial("build.name", buildPattern, r.GetBuild().GetName())
	if err != nil {
		return buildstore.Write{}, err
	}
	was, err := s.store.Vehicle(serial)
	if err != nil {
		return buildstore.Write{}, err
	}
	etag, err := kv.ParseEtag(r.GetBuild().GetEtag())
	if err != nil {
		return buildstore.Write{}, fault.Under("build", err)
	}
	if etag != was.Revision {
		return buildstore.Write{}, fault.New(fault.Aborted, "ETAG_MISMATCH",
			"The record of %s changed since it was read: read it again.", serial)
	}
	rec, err := buildwire.Record(r.GetBuild())
	wrong := append(build.CheckRecord(&rec, s.store.Releases()), build.CheckAmended(&rec, was.Changes)...)
	wrong = append(wrong, tooLarge("components", r.GetBuild())...)
	if err := errorsOf(refuse("build", err, wrong), build.CheckReason(r.GetReason())); err != nil {
		return buildstore.Write{}, err
	}
	rec.Created = was.Record.Created
	fields := build.Diff(&was.Record, &rec)
	if len(fields) == 0 {
		return buildstore.Write{}, fault.New(fault.Invalid, "NOTHING_AMENDED", "The record of %s reads like that already.", serial)
	}
	if rec.Delivered != was.Record.Delivered {
		if err := s.holds.check(ctx, serial, rec.Delivered, besideDelivery(fields)); err != nil {
			return buildstore.Write{}, err
		}
	}
	amendment := build.Amendment{
		Serial: serial, ID: kv.NewID(), Reason: r.GetReason(), Author: access.CallerFrom(ctx).Bearer,
		Created: made, Fields: fields, Before: was.Record,
	}
	return buildstore.Write{Was: &was, Record: &rec, Amendments: []build.Amendment{amendment}}, nil
}

// errorsOf joins a refusal with further fields.
func errorsOf(err error, more []fault.Field) error {
	if len(more) == 0 {
		return err
	}
	if err == nil {
		return fault.InvalidFields(more)
	}
	return fault.InvalidFields(append(fault.FieldsOf("", err), more...))
}

// ListAmendments implements the BuildService.
func (s *Service) ListAmendments(_ context.Context, r *buildv1.ListAmendmentsRequest) (*buildv1.ListAmendmentsResponse, error) {
	serial, _, err := resname.Serial("parent", buildPattern, r.GetParent())
	if err != nil {
		return nil, err
	}
	all, err := s.store.Amendments(serial)
	if err != nil {
		return nil, err
	}
	few, next, err := cut(r, r.GetPageSize(), r.GetPageToken(), all)
	if err != nil {
		return nil, err
	}
	return &buildv1.ListAmendmentsResponse{Amendments: few, NextPageToken: next}, nil
}

// named is an entry of a list that a page can begin after.
type named interface {
	proto.Message
	GetName() string
}

// cut gives one page of a list and the token for the next. Entries are never
// removed, so the one that the token names is found again.
func cut[T named](request proto.Message, asked int32, token string, all []T) (few []T, next string, err error) {
	size, err := page.Size(asked, standardPage, mostPage)
	if err != nil {
		return nil, "", err
	}
	after, err := page.After(request, token)
	if err != nil {
		return nil, "", err
	}
	from := 0
	if after != "" {
		for from < len(all) && all[from].GetName() != after {
			from++
		}
		from++
	}
	bytes := 0
	for i := from; i < len(all); i++ {
		if len(few) == size || bytes > pageBytes {
			return few, page.Token(request, few[len(few)-1].GetName()), nil
		}
		few = append(few, all[i])
		bytes += proto.Size(all[i])
	}
	return few, "", nil
}
