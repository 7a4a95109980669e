package handbookrpc

import (
	"context"

	"golang.org/x/sync/errgroup"
	"google.golang.org/genproto/googleapis/type/date"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// gathered is what the services said of a vehicle.
type gathered struct {
	build         *buildv1.Build
	configuration *buildv1.Configuration
	drive         *buildv1.VehicleDriveLine
	sheet         *partsv1.TechnicalSheet
	schedule      *schedulev1.Schedule
	programme     *schedulev1.Programme
	entries       []*schedulev1.ServiceEntry
	readings      []*schedulev1.Reading
	series        []*schedulev1.MeasuredSeries
	covers        []*warrantyv1.Cover
}

// gather asks all services for the caller, at the same time. A handbook with a
// hole in it is worse than none: where one gives no answer, there is none.
func (s *Service) gather(ctx context.Context, serial vehicle.Serial, on vehicle.Date) (*gathered, error) {
	g, day := &gathered{}, vehiclewire.DateProto(on)
	b, err := s.Builds.GetBuild(ctx, &buildv1.GetBuildRequest{Name: "builds/" + string(serial)})
	if err != nil { // one that is not there has no handbook: nothing else is asked
		return nil, rpcerr.FromStatus(err)
	}
	g.build = b
	asking, ctx := errgroup.WithContext(ctx)
	s.askWhatItIs(ctx, asking, g, day)
	s.askWhatWasDone(ctx, asking, g, day)
	if err := asking.Wait(); err != nil {
		return nil, rpcerr.FromStatus(err)
	}
	return g, nil
}

// askWhatItIs asks what is on the vehicle, and its values.
func (s *Service) askWhatItIs(ctx context.Context, asking *errgroup.Group, g *gathered, day *date.Date) {
	build := g.build.GetName()
	asking.Go(func() (err error) {
		g.configuration, err = s.Builds.GetConfiguration(ctx, &buildv1.GetConfigurationRequest{Name: build, OnDate: day})
		return err
	})
	asking.Go(func() (err error) {
		g.drive, err = s.Builds.GetDriveLine(ctx, &buildv1.GetDriveLineRequest{Name: build + "/driveLine", OnDate: day})
		return err
	})
	asking.Go(func() (err error) {
		g.sheet, err = s.Parts.GetTechnicalSheet(ctx, &partsv1.GetTechnicalSheetRequest{Build: build, OnDate: day})
		return err
	})
}

// askWhatWasDone asks what is to be done and was, and what is covered.
func (s *Service) askWhatWasDone(ctx context.Context, asking *errgroup.Group, g *gathered, day *date.Date) {
	name := "vehicles/" + g.build.GetName()[len("builds/"):]
	asking.Go(func() (err error) {
		g.schedule, err = s.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: name + "/schedule", OnDate: day})
		if err != nil {
			if rpcerr.FromStatus(err).Kind == fault.FailedPrecondition {
				return nil // it has no programme: a table of it is what is missing
			}
			return err
		}
		g.programme, err = s.Schedules.GetProgramme(asService(ctx), &schedulev1.GetProgrammeRequest{Name: g.schedule.GetProgramme()})
		return err
	})
	asking.Go(func() (err error) {
		g.entries, err = page.All(func(token string) ([]*schedulev1.ServiceEntry, string, error) {
			r, err := s.Schedules.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: name, PageSize: 500, PageToken: token})
			return r.GetServiceEntries(), r.GetNextPageToken(), err
		})
		return err
	})
	asking.Go(func() (err error) {
		g.readings, err = page.All(func(token string) ([]*schedulev1.Reading, string, error) {
			r, err := s.Schedules.ListReadings(ctx, &schedulev1.ListReadingsRequest{Parent: name, PageSize: 500, PageToken: token})
			return r.GetReadings(), r.GetNextPageToken(), err
		})
		return err
	})
	asking.Go(func() (err error) {
		g.series, err = page.All(func(token string) ([]*schedulev1.MeasuredSeries, string, error) {
			r, err := s.Schedules.ListMeasuredSeries(ctx, &schedulev1.ListMeasuredSeriesRequest{Parent: name, OnDate: day, PageSize: 500, PageToken: token})
			return r.GetMeasuredSeries(), r.GetNextPageToken(), err
		})
		return err
	})
	asking.Go(func() (err error) {
		g.covers, err = page.All(func(token string) ([]*warrantyv1.Cover, string, error) {
			r, err := s.Warranties.ListCovers(ctx, &warrantyv1.ListCoversRequest{Parent: name, OnDate: day, PageSize: 500, PageToken: token})
			return r.GetCovers(), r.GetNextPageToken(), err
		})
		return err
	})
}
