// Package reminderwire converts between services/reminder and the protos: its
// own records both ways, and what it reads of the schedule, the owners and the
// parts towards the domain.
package reminderwire

import (
	"crypto/sha256"
	"slices"
	"strings"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// The forms of the resource names.
const (
	NoticeForm  = "notices/{notice}"
	TaskForm    = "tasks/{task}"
	OptOutForm  = "optOuts/{opt_out}"
	VehicleForm = "vehicles/{serial}"
	PersonForm  = "people/{person}"
)

// NoticeName and its like make the resource names of identifiers.
func NoticeName(id string) string { return "notices/" + id }

// TaskName makes a task's resource name.
func TaskName(id string) string { return "tasks/" + id }

// OptOutName makes an opt-out's resource name.
func OptOutName(o reminder.OptOut) string { return "optOuts/" + o.ID() }

// VehicleName makes a vehicle's resource name.
func VehicleName(s vehicle.Serial) string { return "vehicles/" + string(s) }

// PersonName makes a person's resource name.
func PersonName(id string) string { return "people/" + id }

// ID reads the identifier of a name of the form, which has one.
func ID(field, form, name string) (string, error) {
	ids, err := resname.Match(field, form, name)
	if err != nil {
		return "", err
	}
	return ids[0], nil
}

// NoticeProto writes a notice, without its message and its etag.
func NoticeProto(n reminder.Notice) *reminderv1.Notice {
	p := &reminderv1.Notice{
		Name: NoticeName(n.ID), Vehicle: VehicleName(n.Serial), Person: PersonName(n.Person),
		Channel: channelProto(n.Channel), Stage: StageProto(n.Stage), State: StateProto(n.State),
		MessageId: n.MessageID, BodySha256: n.BodySHA256[:],
		ClaimTime: vehiclewire.MomentProto(n.Claimed), PrintTime: vehiclewire.MomentProto(n.Printed), SendTime: vehiclewire.MomentProto(n.Sent), RetryTime: vehiclewire.MomentProto(n.Retried),
		Attempts: int32(n.Attempts), NextAttemptTime: vehiclewire.MomentProto(n.NextAttempt), ServerAnswer: n.ServerAnswer,
		Purpose: ownerv1.Purpose(max(n.Purpose, reminder.Service)), Language: n.Language, Segments: int32(n.Segments),
		ReturnReference: n.Reference,
	}
	for _, l := range n.Lines {
		p.Lines = append(p.Lines, &reminderv1.NoticeLine{
			ItemId: l.ItemID, Cycle: l.Cycle, Title: l.Title, ActByDate: vehiclewire.DateProto(l.ActBy),
			Sentence: l.Sentence, Stage: StageProto(l.Stage),
		})
	}
	for _, r := range n.Returns {
		p.Returns = append(p.Returns, &reminderv1.Return{Kind: ReturnKindProto(r.Kind), CreateTime: vehiclewire.MomentProto(r.Time), Text: r.Text})
	}
	return p
}

// Notice reads a notice that NoticeProto wrote.
func Notice(p *reminderv1.Notice) (reminder.Notice, error) {
	serial, _, err := resname.Serial("vehicle", VehicleForm, p.GetVehicle())
	if err != nil {
		return reminder.Notice{}, err
	}
	purpose, err := Purpose("purpose", p.GetPurpose())
	if err != nil {
		return reminder.Notice{}, err
	}
	n := reminder.Notice{
		ID: strings.TrimPrefix(p.GetName(), "notices/"), Serial: serial,
		Person: strings.TrimPrefix(p.GetPerson(), "people/"), Channel: channel(p.GetChannel()),
		Stage: stage(p.GetStage()), State: reminder.State(p.GetState()), MessageID: p.GetMessageId(),
		Claimed: vehiclewire.Moment(p.GetClaimTime()), Printed: vehiclewire.Moment(p.GetPrintTime()), Sent: vehiclewire.Moment(p.GetSendTime()), Retried: vehiclewire.Moment(p.GetRetryTime()),
		Attempts: int(p.GetAttempts()), NextAttempt: vehiclewire.Moment(p.GetNextAttemptTime()), ServerAnswer: p.GetServerAnswer(),
		Purpose: purpose, Language: p.GetLanguage(), Segments: int(p.GetSegments()), Reference: p.GetReturnReference(),
	}
	if len(p.GetBodySha256()) != sha256.Size {
		return reminder.Notice{}, fault.InvalidField("body_sha256", "", "32 bytes")
	}
	copy(n.BodySHA256[:], p.GetBodySha256())
	for _, l := range p.GetLines() {
		actBy, err := vehiclewire.Date(l.GetActByDate())
		if err != nil {
			return reminder.Notice{}, fault.Under("lines.act_by_date", err)
		}
		n.Lines = append(n.Lines, reminder.ToldLine{
			ItemID: l.GetItemId(), Cycle: l.GetCycle(), Title: l.GetTitle(), ActBy: actBy,
			Sentence: l.GetSentence(), Stage: stage(l.GetStage()),
		})
	}
	for _, r := range p.GetReturns() {
		n.Returns = append(n.Returns, reminder.Return{
			Kind: reminder.ReturnKind(r.GetKind()), Time: vehiclewire.Moment(r.GetCreateTime()), Text: r.GetText(),
		})
	}
	return n, nil
}

// ClaimProto writes the claim that a notice makes of each of its stages: which
// notice, when, what for, and, once it failed and another channel may tell the
// stage, that it is rerouted.
func ClaimProto(n reminder.Notice) *reminderv1.Notice {
	p := &reminderv1.Notice{Name: NoticeName(n.ID), ClaimTime: vehiclewire.MomentProto(n.Claimed)}
	if n.Purpose > reminder.Service {
		p.Purpose = ownerv1.Purpose(n.Purpose)
	}
	if n.State == reminder.Rerouted {
		p.State = StateProto(n.State)
	}
	return p
}

// ReturnKindProto writes what came back. The numbers agree; a test holds them
// to it.
func ReturnKindProto(k reminder.ReturnKind) reminderv1.ReturnKind { return reminderv1.ReturnKind(k) }

// TaskProto writes a task, without its etag.
func TaskProto(t reminder.Task) *reminderv1.Task {
	p := &reminderv1.Task{
		Name: TaskName(t.ID), Vehicle: VehicleName(t.Serial), Kind: string(t.Kind), Text: t.Text,
		CreateTime: vehiclewire.MomentProto(t.Created), CompleteTime: vehiclewire.MomentProto(t.Completed), Outcome: t.Outcome,
	}
	if t.Notice != "" {
		p.Notice = NoticeName(t.Notice)
	}
	return p
}

// Task reads a task that TaskProto wrote.
func Task(p *reminderv1.Task) (reminder.Task, error) {
	serial, _, err := resname.Serial("vehicle", VehicleForm, p.GetVehicle())
	if err != nil {
		return reminder.Task{}, err
	}
	return reminder.Task{
		ID: strings.TrimPrefix(p.GetName(), "tasks/"), Serial: serial, Kind: reminder.TaskKind(p.GetKind()),
		Text: p.GetText(), Notice: strings.TrimPrefix(p.GetNotice(), "notices/"),
		Created: vehiclewire.Moment(p.GetCreateTime()), Completed: vehiclewire.Moment(p.GetCompleteTime()), Outcome: p.GetOutcome(),
	}, nil
}

// OptOutProto writes an opt-out.
func OptOutProto(o reminder.OptOut) *reminderv1.OptOut {
	return &reminderv1.OptOut{
		Name: OptOutName(o), Vehicle: VehicleName(o.Serial), Person: PersonName(o.Person),
		CreateTime: vehiclewire.MomentProto(o.Created), Way: o.Way, Purpose: ownerv1.Purpose(max(o.Purpose, reminder.Service)),
	}
}

// OptOut reads an opt-out: of a request, or one that OptOutProto wrote.
func OptOut(p *reminderv1.OptOut) (reminder.OptOut, error) {
	serial, _, err := resname.Serial("vehicle", VehicleForm, p.GetVehicle())
	if err != nil {
		return reminder.OptOut{}, err
	}
	person, err := ID("person", PersonForm, p.GetPerson())
	if err != nil {
		return reminder.OptOut{}, err
	}
	purpose, err := Purpose("purpose", p.GetPurpose())
	if err != nil {
		return reminder.OptOut{}, err
	}
	return reminder.OptOut{Serial: serial, Person: person, Created: vehiclewire.Moment(p.GetCreateTime()), Way: p.GetWay(), Purpose: purpose}, nil
}

// stages are the API's stages in the order of the domain's: its numbers cannot
// follow, because one came later.
var stages = [...]reminderv1.Stage{
	reminder.NoStage: reminderv1.Stage_STAGE_UNSPECIFIED, reminder.Early: reminderv1.Stage_STAGE_EARLY,
	reminder.Due: reminderv1.Stage_STAGE_DUE, reminder.Overdue: reminderv1.Stage_STAGE_OVERDUE,
	reminder.SecondOverdue: reminderv1.Stage_STAGE_SECOND_OVERDUE, reminder.Works: reminderv1.Stage_STAGE_WORKS,
}

// StageProto writes a stage.
func StageProto(s reminder.Stage) reminderv1.Stage { return stages[s] }

func stage(p reminderv1.Stage) reminder.Stage {
	return reminder.Stage(max(0, slices.Index(stages[:], p)))
}

// StateProto writes a state. The numbers agree; a test holds them to it.
func StateProto(s reminder.State) reminderv1.NoticeState { return reminderv1.NoticeState(s) }

func channelProto(c reminder.Channel) reminderv1.Channel {
	switch c {
	case reminder.Mail:
		return reminderv1.Channel_CHANNEL_MAIL
	case reminder.Text:
		return reminderv1.Channel_CHANNEL_TEXT
	case reminder.Letter:
		return reminderv1.Channel_CHANNEL_LETTER
	}
	return reminderv1.Channel_CHANNEL_UNSPECIFIED
}

func channel(c reminderv1.Channel) reminder.Channel {
	switch c {
	case reminderv1.Channel_CHANNEL_MAIL:
		return reminder.Mail
	case reminderv1.Channel_CHANNEL_TEXT:
		return reminder.Text
	case reminderv1.Channel_CHANNEL_LETTER:
		return reminder.Letter
	}
	return ""
}
