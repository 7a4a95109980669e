package reminderrpc

import (
	"context"
	"slices"
	"time"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderjob"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
)

// ties gives who is or was what to a vehicle.
func (s *Service) ties(ctx context.Context, serial vehicle.Serial) ([]reminder.Tie, error) {
	records, err := page.All(func(token string) ([]*ownerv1.Tie, string, error) {
		r, err := s.Job.Owners.ListTies(reminderjob.AsService(ctx), &ownerv1.ListTiesRequest{
			Parent: reminderwire.VehicleName(serial), PageSize: 500, PageToken: token,
		})
		return r.GetTies(), r.GetNextPageToken(), err
	})
	if err != nil {
		return nil, rpcerr.FromStatus(err)
	}
	out := make([]reminder.Tie, len(records))
	for i, r := range records {
		if out[i], err = reminderwire.Tie(r); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// tied gives a person who is tied to a vehicle now; false for anybody else, for
// somebody who is not there as well.
func (s *Service) tied(ctx context.Context, serial vehicle.Serial, person string) (*ownerv1.Person, bool, error) {
	ties, err := s.ties(ctx, serial)
	now := s.now()
	if err != nil || !slices.ContainsFunc(ties, func(t reminder.Tie) bool { return t.Person == person && t.Lasts(now) }) {
		return nil, false, err
	}
	p, err := s.person(ctx, person)
	return p, p != nil && err == nil, err
}

// person gives somebody's record; nil when there is nobody of that name.
func (s *Service) person(ctx context.Context, id string) (*ownerv1.Person, error) {
	p, err := s.Job.Owners.GetPerson(reminderjob.AsService(ctx), &ownerv1.GetPersonRequest{Name: reminderwire.PersonName(id)})
	if err != nil {
		refusal := rpcerr.FromStatus(err)
		if refusal.Kind == fault.NotFound {
			return nil, nil
		}
		return nil, refusal
	}
	return p, nil
}

// todayOf gives the day by a person's own clock.
func todayOf(p *ownerv1.Person, now time.Time) vehicle.Date {
	zone, err := time.LoadLocation(p.GetTimeZone())
	if err != nil {
		zone = time.UTC
	}
	return vehicle.DateOf(now.In(zone))
}

// habits is a person without what says who they are: language and units.
func habits(p *ownerv1.Person) *ownerv1.Person {
	return &ownerv1.Person{
		Name: p.GetName(), Language: p.GetLanguage(), DistanceUnit: p.GetDistanceUnit(),
		TimeZone: p.GetTimeZone(), FormatLocale: p.GetFormatLocale(),
	}
}
