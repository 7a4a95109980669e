package accesswire

import (
	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// assignmentForm is the pattern of an assignment's name.
const assignmentForm = "vehicles/{serial}/assignments/{assignment}"

// AssignmentID reads an assignment's resource name. field is the request's,
// for the refusal.
func AssignmentID(field, name string) (vehicle.Serial, string, error) {
	serial, ids, err := resname.Serial(field, assignmentForm, name)
	if err != nil {
		return "", "", err
	}
	return serial, ids[0], nil
}

// Assignment reads an assignment with its name, as it is stored and sent to
// other services.
func Assignment(p *accessv1.Assignment) (access.Assignment, error) {
	a, faults := AssignmentFields(p)
	if err := fault.InvalidFields(faults); err != nil {
		return a, err
	}
	var err error
	a.Vehicle, a.ID, err = AssignmentID("name", p.GetName())
	return a, err
}

// AssignmentFields reads an assignment without its name, and says which days
// are none.
func AssignmentFields(p *accessv1.Assignment) (access.Assignment, []fault.Field) {
	start, errStart := vehiclewire.Date(p.GetStartDate())
	last, errLast := vehiclewire.Date(p.GetLastDate())
	faults := append(fault.FieldsOf("start_date", errStart), fault.FieldsOf("last_date", errLast)...)
	end := p.GetEnd()
	return access.Assignment{
		Organisation: p.GetOrganisation(), Ground: ground(p.GetGround()), ConsentedBy: p.GetConsentedBy(),
		Start: start, Last: last, Purpose: p.GetPurpose(), RecordedBy: p.GetRecordedBy(), Created: vehiclewire.Moment(p.GetCreateTime()),
		End: access.AssignmentEnd{
			Time: vehiclewire.Moment(end.GetEndTime()), Complete: end.GetComplete(), Reason: end.GetReason(), RecordedBy: end.GetRecordedBy(),
		},
	}, faults
}

// ground reads a ground; one that this program does not know is none.
func ground(g accessv1.AssignmentGround) access.Ground {
	if g < 0 || int(g) > int(access.ByWorks) {
		return access.NoGround
	}
	return access.Ground(g)
}

// AssignmentProto writes an assignment, all of it: whom of it the caller may
// not see is for the service to leave out. Whether it is open is not part of
// the record.
func AssignmentProto(a access.Assignment) *accessv1.Assignment {
	out := &accessv1.Assignment{
		Name: a.Name(), Organisation: a.Organisation, Ground: accessv1.AssignmentGround(a.Ground), ConsentedBy: a.ConsentedBy,
		StartDate: vehiclewire.DateProto(a.Start), LastDate: vehiclewire.DateProto(a.Last), Purpose: a.Purpose,
		RecordedBy: a.RecordedBy, CreateTime: vehiclewire.MomentProto(a.Created),
	}
	if a.Ended() {
		out.End = &accessv1.AssignmentEnd{
			EndTime: vehiclewire.MomentProto(a.End.Time), Complete: a.End.Complete, Reason: a.End.Reason, RecordedBy: a.End.RecordedBy,
		}
	}
	return out
}
