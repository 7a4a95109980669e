package ownerwire

import (
	"strings"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// TransferName gives a transfer's resource name.
func TransferName(serial vehicle.Serial, id string) string {
	return "vehicles/" + string(serial) + "/transfers/" + id
}

// TransferID reads a transfer's resource name; its serial may be written in any
// form.
func TransferID(field, name string) (vehicle.Serial, string, error) {
	serial, ids, err := resname.Serial(field, transferForm, name)
	if err != nil {
		return "", "", err
	}
	if !owner.ValidID(ids[0]) {
		return "", "", fault.InvalidField(field, name, transferForm)
	}
	return serial, ids[0], nil
}

// Transfer reads all of a transfer but its name.
func Transfer(t *ownerv1.Transfer) (owner.Transfer, error) {
	date, err := vehiclewire.Date(t.GetTransferDate())
	return owner.Transfer{
		State: owner.TransferState(t.GetState()), OfferedBy: strings.TrimPrefix(t.GetOfferedBy(), people), NewOwner: strings.TrimPrefix(t.GetNewOwner(), people),
		Date: date, Evidence: t.GetEvidence(), Created: vehiclewire.Moment(t.GetCreateTime()), Expires: vehiclewire.Moment(t.GetExpireTime()), Ended: vehiclewire.Moment(t.GetEndTime()),
		WrongCodes: int(t.GetWrongCodes()), RecordedBy: t.GetRecordedBy(),
	}, err
}

// TransferProto writes a transfer, without the etag.
func TransferProto(t owner.Transfer) *ownerv1.Transfer {
	return &ownerv1.Transfer{
		Name: TransferName(t.Serial, t.ID), State: ownerv1.TransferState(t.State), OfferedBy: personOrNobody(t.OfferedBy), NewOwner: personOrNobody(t.NewOwner),
		TransferDate: vehiclewire.DateProto(t.Date), Evidence: t.Evidence, CreateTime: vehiclewire.MomentProto(t.Created), ExpireTime: vehiclewire.MomentProto(t.Expires),
		EndTime: vehiclewire.MomentProto(t.Ended), WrongCodes: int32(t.WrongCodes), RecordedBy: t.RecordedBy,
	}
}

func personOrNobody(id string) string {
	if id == "" {
		return ""
	}
	return PersonName(id)
}

// StandingName gives the resource name of a vehicle's standing.
func StandingName(serial vehicle.Serial) string { return "vehicles/" + string(serial) + "/standing" }

// StandingID reads the resource name of a standing; its serial may be written
// in any form.
func StandingID(field, name string) (vehicle.Serial, error) {
	serial, _, err := resname.Serial(field, standingForm, name)
	return serial, err
}

// Standing reads all of a standing but its name.
func Standing(s *ownerv1.Standing) (owner.Standing, []fault.Field) {
	var faults []fault.Field
	since, err := vehiclewire.Date(s.GetSinceDate())
	if err != nil {
		faults = append(faults, fault.Field{Name: "since_date", Got: s.GetSinceDate().String(), Want: "a day of the calendar"})
	}
	if t := s.GetUpdateTime(); t != nil && !t.IsValid() {
		faults = append(faults, fault.Field{Name: "update_time", Got: t.String(), Want: "a time in the years 1 to 9999"})
	}
	state := s.GetState()
	if state < 0 || state > ownerv1.StandingState_STANDING_STATE_SCRAPPED {
		state = ownerv1.StandingState_STANDING_STATE_UNSPECIFIED // unknown to this program; refused by owner.Standing.Faults
	}
	return owner.Standing{
		State: owner.StandingState(state), Since: since, Note: s.GetNote(), RecordedBy: s.GetRecordedBy(), Updated: vehiclewire.Moment(s.GetUpdateTime()),
	}, faults
}

// StandingProto writes a standing, without the etag.
func StandingProto(s owner.Standing) *ownerv1.Standing {
	return &ownerv1.Standing{
		Name: StandingName(s.Serial), State: ownerv1.StandingState(s.State), SinceDate: vehiclewire.DateProto(s.Since), Note: s.Note,
		RecordedBy: s.RecordedBy, UpdateTime: vehiclewire.MomentProto(s.Updated),
	}
}
