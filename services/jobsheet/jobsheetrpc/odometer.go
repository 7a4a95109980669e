package jobsheetrpc

import (
	"context"
	"fmt"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/jobsheet"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// distance says what the dial is and what it showed last.
func (g *gathered) distance(readings []*schedulev1.Reading) jobsheet.Distance {
	dial := g.configuration.GetDial()
	out := jobsheet.Distance{Unit: vehicle.Unit(dial.GetUnit())}
	if dial.GetUnit() != "" {
		unit := map[string]string{"mi": "miles", "km": "kilometres"}[dial.GetUnit()]
		out.Dial = fmt.Sprintf("%s, %d digits", unit, dial.GetDigits())
	}
	for _, r := range readings {
		if r.GetState() == schedulev1.ReadingState_READING_STATE_COUNTED {
			out.Last, _ = vehiclewire.Entered(r.GetValue())
			out.LastDate = dayOf(r.GetReadingDate())
		}
	}
	return out
}

// expect says what the dial may show on the day of the visit: the last counted
// reading and what the schedule expects the vehicle to go until then, by its
// odometer's factor. Nothing is said where the odometer was replaced since.
func (s *Service) expect(ctx context.Context, g *gathered, d *jobsheet.Distance, serial vehicle.Serial, on vehicle.Date) error {
	if d.Last.IsZero() || on.Before(d.LastDate) {
		return nil
	}
	changes, err := page.All(func(token string) ([]*buildv1.Change, string, error) {
		r, err := s.Builds.ListChanges(recorder(ctx, access.CallerFrom(ctx)), &buildv1.ListChangesRequest{Parent: "builds/" + string(serial), PageSize: 500, PageToken: token})
		return r.GetChanges(), r.GetNextPageToken(), err
	})
	if err != nil {
		return rpcerr.FromStatus(err)
	}
	for _, c := range changes {
		if c.GetKind() == buildv1.ChangeKind_CHANGE_KIND_DIAL && !dayOf(c.GetChangeDate()).Before(d.LastDate) {
			return nil
		}
	}
	drive, err := s.Builds.GetDriveLine(ctx, &buildv1.GetDriveLineRequest{Name: "builds/" + string(serial) + "/driveLine"})
	if err != nil {
		return rpcerr.FromStatus(err)
	}
	then, err := s.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: "vehicles/" + string(serial) + "/schedule", OnDate: vehiclewire.DateProto(on), View: schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC})
	if err != nil {
		return rpcerr.FromStatus(err)
	}
	gone := vehicle.Distance(then.GetPace().GetEstimatedDistance().GetMillimetres() - then.GetPace().GetLifeDistance().GetMillimetres())
	dial := g.configuration.GetDial()
	d.Expected = jobsheet.Expect(d.Last, gone, drive.GetSpeedometer().GetOdometerFactorPpm(), vehicle.Dial{Digits: int(dial.GetDigits()), Unit: d.Unit})
	return nil
}
