package buildrpc

import (
	"context"
	"fmt"
	"strconv"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle/vehiclewire"
)

// The most that a question about a drive line asks.
const (
	mostEngineSpeed = 10_000 // turns a minute; no engine of such vehicles turns faster
	mostDrives      = 200
)

// GetDriveLine implements the BuildService.
func (s *Service) GetDriveLine(ctx context.Context, r *buildv1.GetDriveLineRequest) (*buildv1.VehicleDriveLine, error) {
	serial, _, err := resname.Serial("name", buildPattern+"/driveLine", r.GetName())
	if err != nil {
		return nil, err
	}
	on, err := vehiclewire.Date(r.GetOnDate())
	if err != nil {
		return nil, fault.InvalidField("on_date", r.GetOnDate().String(), "a day of the calendar")
	}
	if on.IsZero() {
		on = s.today()
	}
	question, err := driveLineQuestion(r)
	if err != nil {
		return nil, err
	}
	v, err := s.store.Vehicle(serial)
	if err != nil {
		return nil, err
	}
	d, err := build.DriveLineOf(v.Record, v.Changes, s.store.Releases(), on, question)
	if err != nil {
		return nil, err
	}
	return vehiclewire.Alone(ctx, serial, buildwire.DriveLineProto(d)), nil
}

func driveLineQuestion(r *buildv1.GetDriveLineRequest) (build.DriveLineQuestion, error) {
	const drives = "available_speedometer_drives"
	q := build.DriveLineQuestion{EngineSpeed: int(r.GetEngineSpeedRpm()), Drives: buildwire.Teeth(r.GetAvailableSpeedometerDrives())}
	var wrong []fault.Field
	if q.EngineSpeed < 0 || q.EngineSpeed > mostEngineSpeed {
		wrong = append(wrong, fault.Field{
			Name: "engine_speed_rpm", Got: strconv.Itoa(q.EngineSpeed),
			Want: fmt.Sprintf("1 to %d turns a minute; 0 means %d", mostEngineSpeed, build.StandardEngineSpeed),
		})
	}
	if len(q.Drives) > mostDrives {
		wrong = append(wrong, fault.Field{Name: drives, Got: fmt.Sprintf("%d entries", len(q.Drives)), Want: fmt.Sprintf("at most %d", mostDrives)})
	}
	for i, pair := range q.Drives {
		wrong = append(wrong, fault.FieldsUnder(fmt.Sprintf("%s[%d]", drives, i), pair.Validate())...)
	}
	return q, fault.InvalidFields(wrong)
}
