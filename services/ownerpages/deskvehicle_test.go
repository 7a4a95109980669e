package ownerpages_test

import (
	"context"
	"fmt"
	"slices"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle/vehiclewire"
)

// The services as their clients see them, as in desk_test.go.
type (
	builds struct {
		*desk
		otherBuilds
	}
	bulletins struct {
		*desk
		otherBulletins
	}

	otherBuilds    struct{ buildv1.BuildServiceClient }
	otherBulletins struct {
		bulletinv1.BulletinServiceClient
	}
)

func (d *desk) GetBuild(ctx context.Context, r *buildv1.GetBuildRequest, _ ...grpc.CallOption) (*buildv1.Build, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	if r.GetName() != "builds/"+theSerial {
		return nil, notFound()
	}
	return &buildv1.Build{
		Name: r.GetName(), FrameNumber: "24000-10000", KeyNumbers: []string{"K300"}, Plate: "AM 147 PH",
		Wheelbase: "short", Finish: buildv1.Finish_FINISH_REFINISHED, FinishNote: "moor green",
	}, nil
}

func (d *desk) ListVehicleBulletins(ctx context.Context, r *bulletinv1.ListVehicleBulletinsRequest, _ ...grpc.CallOption) (*bulletinv1.ListVehicleBulletinsResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	if r.GetParent() != theVehicle {
		return nil, notFound()
	}
	return &bulletinv1.ListVehicleBulletinsResponse{VehicleBulletins: d.bulletins}, nil
}

func (d *desk) GetProgramme(ctx context.Context, r *schedulev1.GetProgrammeRequest, _ ...grpc.CallOption) (*schedulev1.Programme, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.pages(ctx); err != nil {
		return nil, err
	}
	p := &schedulev1.Programme{Name: r.GetName(), Items: []*schedulev1.Item{{ItemId: "X09", Title: "Renew the rubber fuel hoses"}}}
	for _, i := range programme {
		p.Items = append(p.Items, &schedulev1.Item{ItemId: i.id, Title: i.title})
	}
	return p, nil
}

// theirs lets somebody ask about themselves.
func (d *desk) theirs(ctx context.Context, person string) error {
	if err := d.mine(ctx); err != nil {
		return err
	}
	if person != "people/"+d.owner {
		return notFound()
	}
	return nil
}

func (d *desk) GetPerson(ctx context.Context, r *ownerv1.GetPersonRequest, _ ...grpc.CallOption) (*ownerv1.Person, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.theirs(ctx, r.GetName()); err != nil {
		return nil, err
	}
	p := proto.CloneOf(d.person)
	p.Name, p.Consents = r.GetName(), d.consents
	return p, nil
}

func (d *desk) UpdatePerson(ctx context.Context, r *ownerv1.UpdatePersonRequest, _ ...grpc.CallOption) (*ownerv1.Person, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.theirs(ctx, r.GetPerson().GetName()); err != nil {
		return nil, err
	}
	return once(d, r, func() (*ownerv1.Person, error) {
		if r.GetPerson().GetEtag() != d.person.GetEtag() {
			return nil, status.Error(codes.Aborted, "changed meanwhile")
		}
		d.person = proto.CloneOf(r.GetPerson())
		d.person.Etag += "x"
		return proto.CloneOf(d.person), nil
	})
}

func (d *desk) RecordConsent(ctx context.Context, r *ownerv1.RecordConsentRequest, _ ...grpc.CallOption) (*ownerv1.Consent, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.theirs(ctx, r.GetParent()); err != nil {
		return nil, err
	}
	return once(d, r, func() (*ownerv1.Consent, error) {
		d.consents = append(slices.Clone(d.consents), r.GetConsent())
		return r.GetConsent(), nil
	})
}

func (d *desk) ListTies(ctx context.Context, r *ownerv1.ListTiesRequest, _ ...grpc.CallOption) (*ownerv1.ListTiesResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	if r.GetParent() != theVehicle {
		return nil, notFound()
	}
	return &ownerv1.ListTiesResponse{Ties: d.ties}, nil
}

func (d *desk) WithdrawLinks(ctx context.Context, r *reminderv1.WithdrawLinksRequest, _ ...grpc.CallOption) (*reminderv1.WithdrawLinksResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.theirs(ctx, r.GetPerson()); err != nil {
		return nil, err
	}
	return once(d, r, func() (*reminderv1.WithdrawLinksResponse, error) {
		d.epoch++
		return &reminderv1.WithdrawLinksResponse{}, nil
	})
}

// history puts on record what was done over some years: by a workshop, by what
// the owner told, and one entry that was struck out.
func (d *desk) history() {
	d.mu.Lock()
	defer d.mu.Unlock()
	measured := func(what, value, unit string) []*schedulev1.MeasuredValue {
		return []*schedulev1.MeasuredValue{{Characteristic: what, Value: &vehiclev1.Quantity{Value: value, Unit: unit}}}
	}
	entry := func(on string, items ...*schedulev1.ItemDone) *schedulev1.ServiceEntry {
		e := &schedulev1.ServiceEntry{Name: fmt.Sprintf("%s/serviceEntries/h%d", theVehicle, len(d.entries)), ServiceDate: vehiclewire.DateProto(date(on)), Items: items}
		d.entries = append(d.entries, e)
		return e
	}
	e := entry("2019-09-01", &schedulev1.ItemDone{ItemId: "X09"}, &schedulev1.ItemDone{ItemId: "Q77"})
	e.DoneBy = "Harbour Road Garage"
	e = entry("2020-03-02", &schedulev1.ItemDone{ItemId: "T01", Measured: measured("end-float", "0.08", "mm")})
	e.DoneBy, e.Note, e.Reading = "Harbour Road Garage", "runs quietly", &vehiclev1.Distance{EnteredValue: "9000", EnteredUnit: "km"}
	e = entry("2020-11-05", &schedulev1.ItemDone{ItemId: "E01"})
	e.OwnerStatement, e.Note = true, "changed it in the barn"
	e = entry("2021-01-01", &schedulev1.ItemDone{ItemId: "B01"})
	e.VoidReason = "of another vehicle"
}
