package reminderwire

import (
	"slices"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// AnswerForm is the form of an answer's name.
const AnswerForm = "vehicles/{serial}/answers/{answer}"

// AnswerName makes an answer's resource name.
func AnswerName(serial vehicle.Serial, id string) string {
	return VehicleName(serial) + "/answers/" + id
}

// AnswerProto writes an answer with the words it has open, without its etag.
func AnswerProto(a reminder.Answer) *reminderv1.Answer {
	p := &reminderv1.Answer{
		Name: AnswerName(a.Serial, a.ID), Kind: reminderv1.AnswerKind(a.Kind), Cycles: a.Cycles,
		AnswerDate: vehiclewire.DateProto(a.Day), Workshop: a.Workshop, Note: a.Note, ServiceEntry: a.ServiceEntry,
		CreateTime: vehiclewire.MomentProto(a.Created), WithdrawTime: vehiclewire.MomentProto(a.Withdrawn), RecordedBy: a.RecordedBy,
	}
	if a.Person != "" {
		p.Person = PersonName(a.Person)
	}
	if a.Notice != "" {
		p.Notice = NoticeName(a.Notice)
	}
	return p
}

// Answer reads an answer that AnswerProto wrote.
func Answer(p *reminderv1.Answer) (reminder.Answer, error) {
	serial, ids, err := resname.Serial("name", AnswerForm, p.GetName())
	if err != nil {
		return reminder.Answer{}, err
	}
	a, err := AskedAnswer(serial, p)
	a.ID, a.Created, a.Withdrawn, a.RecordedBy = ids[0], vehiclewire.Moment(p.GetCreateTime()), vehiclewire.Moment(p.GetWithdrawTime()), p.GetRecordedBy()
	return a, err
}

// KeptAnswerProto writes an answer as it is kept. Of one that a person gave the
// words are only in what was sealed.
func KeptAnswerProto(a reminder.Answer) *reminderv1.KeptAnswer {
	p := &reminderv1.KeptAnswer{Answer: AnswerProto(a), SealedWords: a.Sealed}
	if a.Person != "" {
		p.Answer.Workshop, p.Answer.Note = "", ""
	}
	return p
}

// KeptAnswer reads an answer that KeptAnswerProto wrote.
func KeptAnswer(p *reminderv1.KeptAnswer) (reminder.Answer, error) {
	a, err := Answer(p.GetAnswer())
	a.Sealed = p.GetSealedWords()
	return a, err
}

// AskedAnswer reads what a caller says of an answer about a vehicle: without
// the name and what the service itself writes.
func AskedAnswer(serial vehicle.Serial, p *reminderv1.Answer) (reminder.Answer, error) {
	a := reminder.Answer{
		Serial: serial, Kind: reminder.AnswerKind(p.GetKind()), Cycles: slices.Clone(p.GetCycles()),
		Workshop: p.GetWorkshop(), Note: p.GetNote(), ServiceEntry: p.GetServiceEntry(),
	}
	var err error
	if a.Day, err = Day("answer_date", p.GetAnswerDate()); err != nil {
		return a, err
	}
	if p.GetPerson() != "" {
		if a.Person, err = ID("person", PersonForm, p.GetPerson()); err != nil {
			return a, err
		}
	}
	if p.GetNotice() != "" {
		if a.Notice, err = ID("notice", NoticeForm, p.GetNotice()); err != nil {
			return a, err
		}
	}
	if a.ServiceEntry != "" {
		of, _, err := resname.Serial("service_entry", "vehicles/{serial}/serviceEntries/{service_entry}", a.ServiceEntry)
		if err != nil {
			return a, err
		}
		if of != serial {
			return a, fault.InvalidField("service_entry", a.ServiceEntry, "an entry of "+VehicleName(serial))
		}
	}
	return a, nil
}
