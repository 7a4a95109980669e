package buildrpc

import (
	"context"
	"errors"
	"time"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/access"
	"halfshaft/services/build"
	"halfshaft/services/build/buildstore"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle/vehiclewire"
)

// RecordChange implements the BuildService.
func (s *Service) RecordChange(ctx context.Context, r *buildv1.RecordChangeRequest) (*buildv1.Change, error) {
	answer, _, err := once(ctx, s, r.GetRequestId(), r, &buildv1.Change{}, func(made time.Time) (*buildv1.Change, kv.Result, error) {
		serial, _, err := resname.Serial("parent", buildPattern, r.GetParent())
		if err != nil {
			return nil, kv.Result{}, err
		}
		was, err := s.store.Vehicle(serial)
		if err != nil {
			return nil, kv.Result{}, err
		}
		change, err := s.readChange(ctx, r.GetChange(), &was, made)
		if err != nil {
			return nil, kv.Result{}, err
		}
		answer := buildwire.ChangeProto(change)
		result, err := s.store.Commit(ctx, buildstore.Request{ID: r.GetRequestId(), Payload: r, Answer: answer},
			buildstore.Write{Was: &was, Changes: []build.Change{change}})
		return answer, result, elsewhere("change.component", err)
	})
	return answer, err
}

// readChange reads a change that somebody sent, and refuses it with all that
// is wrong with it. What the service gives is not read.
func (s *Service) readChange(ctx context.Context, p *buildv1.Change, was *buildstore.Vehicle, made time.Time) (build.Change, error) {
	change, err := buildwire.Change(p)
	s.sign(ctx, &change, was, made)
	change.Counterpart = ""
	wrong := build.CheckChange(&change, &was.Record, was.Changes, s.store.Releases(), s.today())
	return change, errorsOf(refuse("change", err, wrong), build.CheckCount(len(was.Changes)))
}

// sign gives a change its name, its moment, and the one who records it.
func (s *Service) sign(ctx context.Context, c *build.Change, was *buildstore.Vehicle, made time.Time) {
	c.Serial, c.ID = was.Record.Serial, kv.NewID()
	c.RecordedBy, c.Created = access.CallerFrom(ctx).Bearer, recordedAfter(was.Changes, made)
}

// elsewhere says which field of the request held a component that stands
// elsewhere: of a change there is only one.
func elsewhere(path string, err error) error {
	var f *fault.Error
	if !errors.As(err, &f) || f.Reason != "COMPONENT_ELSEWHERE" {
		return err
	}
	named := *f
	named.Fields = nil
	for _, field := range f.Fields {
		field.Name = path + ".serial"
		named.Fields = append(named.Fields, field)
	}
	return &named
}

// MoveComponent implements the BuildService.
func (s *Service) MoveComponent(ctx context.Context, r *buildv1.MoveComponentRequest) (*buildv1.MoveComponentResponse, error) {
	answer, _, err := once(ctx, s, r.GetRequestId(), r, &buildv1.MoveComponentResponse{},
		func(made time.Time) (*buildv1.MoveComponentResponse, kv.Result, error) {
			m, err := s.readMove(r)
			if err != nil {
				return nil, kv.Result{}, err
			}
			removed, fitted, err := s.decide(ctx, m, made)
			if err != nil {
				return nil, kv.Result{}, err
			}
			answer := &buildv1.MoveComponentResponse{Removed: buildwire.ChangeProto(removed), Fitted: buildwire.ChangeProto(fitted)}
			writes := []buildstore.Write{
				{Was: &m.from, Changes: []build.Change{removed}}, {Was: &m.to, Changes: []build.Change{fitted}},
			}
			if m.from.Record.Serial == m.to.Record.Serial {
				writes = []buildstore.Write{{Was: &m.from, Changes: []build.Change{removed, fitted}}}
			}
			result, err := s.store.Commit(ctx, buildstore.Request{ID: r.GetRequestId(), Payload: r, Answer: answer}, writes...)
			return answer, result, err
		})
	return answer, err
}

// move is a request to move a component, read.
type move struct {
	build.Move
	from, to buildstore.Vehicle
}

func (s *Service) readMove(r *buildv1.MoveComponentRequest) (*move, error) {
	source, _, err := resname.Serial("source", buildPattern, r.GetSource())
	if err != nil {
		return nil, err
	}
	destination, _, err := resname.Serial("destination", buildPattern, r.GetDestination())
	if err != nil {
		return nil, err
	}
	m := &move{}
	if m.from, err = s.store.Vehicle(source); err != nil {
		return nil, err
	}
	if m.to, err = s.store.Vehicle(destination); err != nil {
		return nil, err
	}
	m.Move = build.Move{
		From: &m.from.Record, To: &m.to.Record, FromPosition: r.GetSourcePosition(), ToPosition: r.GetDestinationPosition(),
		Reason: r.GetReason(), DoneBy: r.GetDoneBy(),
	}
	if m.ToPosition == "" {
		m.ToPosition = m.FromPosition
	}
	var wrong []fault.Field
	m.Date, err = vehiclewire.Date(r.GetMoveDate())
	switch {
	case err != nil:
		wrong = append(wrong, fault.Field{Name: "move_date", Got: r.GetMoveDate().String(), Want: "a day of the calendar"})
	case m.Date.IsZero():
		wrong = append(wrong, fault.Field{Name: "move_date", Want: "the day it was fitted to the destination"})
	}
	m.Covered, err = vehiclewire.Entered(r.GetComponentDistance())
	wrong = append(wrong, fault.FieldsOf("component_distance", err)...)
	wrong = append(wrong, build.CheckReason(r.GetReason())...)
	if source == destination && m.FromPosition == m.ToPosition {
		wrong = append(wrong, fault.Field{Name: "destination", Got: r.GetDestination(), Want: "another vehicle, or another position"})
	}
	return m, fault.InvalidFields(wrong)
}

// decide makes both halves of a move and checks each as if it had been
// recorded by itself.
func (s *Service) decide(ctx context.Context, m *move, made time.Time) (removed, fitted build.Change, err error) {
	releases := s.store.Releases()
	if removed, fitted, err = m.Changes(m.from.Changes, releases); err != nil {
		return removed, fitted, err
	}
	s.sign(ctx, &removed, &m.from, made)
	s.sign(ctx, &fitted, &m.to, made)
	if !fitted.Created.After(removed.Created) {
		fitted.Created = removed.Created.Add(time.Microsecond)
	}
	removed.Counterpart, fitted.Counterpart = fitted.Name(), removed.Name()
	wrong := moveFields("source_position", build.CheckChange(&removed, m.From, m.from.Changes, releases, s.today()))
	wrong = append(wrong, moveFields("destination_position", build.CheckChange(&fitted, m.To, m.to.Changes, releases, s.today()))...)
	wrong = append(wrong, build.CheckCount(len(m.from.Changes))...)
	wrong = append(wrong, build.CheckCount(len(m.to.Changes))...)
	return removed, fitted, fault.InvalidFields(wrong)
}

// moveFields says in the words of the request what is wrong with a half.
func moveFields(position string, wrong []fault.Field) []fault.Field {
	for i := range wrong {
		switch wrong[i].Name {
		case "component.position":
			wrong[i].Name = position
		case "change_date", "component.bedding_in_date":
			wrong[i].Name = "move_date"
		case "component.prior_distance":
			wrong[i].Name = "component_distance"
		}
	}
	return wrong
}

// ListChanges implements the BuildService.
func (s *Service) ListChanges(_ context.Context, r *buildv1.ListChangesRequest) (*buildv1.ListChangesResponse, error) {
	serial, _, err := resname.Serial("parent", buildPattern, r.GetParent())
	if err != nil {
		return nil, err
	}
	all, err := s.store.Changes(serial)
	if err != nil {
		return nil, err
	}
	few, next, err := cut(r, r.GetPageSize(), r.GetPageToken(), all)
	if err != nil {
		return nil, err
	}
	return &buildv1.ListChangesResponse{Changes: few, NextPageToken: next}, nil
}

// GetConfiguration implements the BuildService.
func (s *Service) GetConfiguration(ctx context.Context, r *buildv1.GetConfigurationRequest) (*buildv1.Configuration, error) {
	serial, _, err := resname.Serial("name", buildPattern, r.GetName())
	if err != nil {
		return nil, err
	}
	v, err := s.store.Vehicle(serial)
	if err != nil {
		return nil, err
	}
	if r.GetAsBuilt() {
		c, err := build.AsBuilt(v.Record, s.store.Releases())
		return vehiclewire.Alone(ctx, serial, configurationProto(c, r)), err
	}
	on, err := vehiclewire.Date(r.GetOnDate())
	if err != nil {
		return nil, fault.InvalidField("on_date", r.GetOnDate().String(), "a day of the calendar")
	}
	if on.IsZero() {
		on = s.today()
	}
	c, err := build.Configure(v.Record, v.Changes, s.store.Releases(), on)
	if err != nil {
		return nil, err
	}
	return vehiclewire.Alone(ctx, serial, configurationProto(c, r)), nil
}

// configurationProto writes what a request asks of a configuration.
func configurationProto(c build.Configuration, r *buildv1.GetConfigurationRequest) *buildv1.Configuration {
	if r.GetWithoutFitted() {
		c.Fitted = nil
	}
	return buildwire.ConfigurationProto(c)
}
