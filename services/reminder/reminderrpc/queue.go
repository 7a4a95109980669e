package reminderrpc

import (
	"context"
	"strings"

	"google.golang.org/protobuf/proto"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderjob"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
)

// RunPass implements the ReminderService.
func (s *Service) RunPass(ctx context.Context, r *reminderv1.RunPassRequest) (*reminderv1.PassReport, error) {
	day, err := reminderwire.Day("on_date", r.GetOnDate())
	if err != nil {
		return nil, err
	}
	if r.GetDryRun() {
		return s.dryRun(ctx, day)
	}
	if !day.IsZero() {
		return nil, fault.InvalidField("on_date", day.String(), "nothing, except with dry_run: a pass runs now")
	}
	report, err := s.Job.Run(ctx)
	if err != nil {
		return nil, err
	}
	out := passReport(report)
	out.Notices, err = first(report.Notices, func(n reminder.Notice) (*reminderv1.Notice, error) {
		kept, err := s.Store.Notice(ctx, n.ID) // as it stands after the sending
		return reminderwire.NoticeProto(kept.Notice), err
	})
	if err != nil {
		return nil, err
	}
	for _, a := range report.Alarms {
		out.Alarms = append(out.Alarms, a.Sentence)
	}
	return out, nil
}

// dryRun tells what the passes of a day would tell, beside what those of the
// day before came to; a zero day is this moment's pass.
func (s *Service) dryRun(ctx context.Context, day vehicle.Date) (*reminderv1.PassReport, error) {
	report, err := s.Job.DryRunOn(ctx, day)
	if err != nil {
		return nil, err
	}
	out := passReport(report)
	out.Notices, err = first(report.Notices, func(n reminder.Notice) (*reminderv1.Notice, error) { return reminderwire.NoticeProto(n), nil })
	if err != nil {
		return nil, err
	}
	today, before := vehicle.DateOf(s.now()), "the day before"
	if day.IsZero() || day == today {
		day, before = today, "yesterday"
	}
	if out.DayBefore, _, err = s.Store.PassDay(ctx, day.AddDays(-1)); err != nil {
		return nil, err
	}
	out.Differences = report.Differences(out.DayBefore, before)
	out.Alarms, err = s.Job.Alarms(ctx)
	return out, err
}

// Bounds of each list in a report, so that a report of any number of vehicles
// fits an answer of the API.
const (
	mostInReport  = 500
	bytesInReport = 1 << 20
)

// first writes the first entries of a list, as many as go into a report.
func first[T any, P proto.Message](all []T, write func(T) (P, error)) ([]P, error) {
	var out []P
	size := 0
	for _, entry := range all[:min(len(all), mostInReport)] {
		p, err := write(entry)
		if err != nil {
			return nil, err
		}
		if size += proto.Size(p); size > bytesInReport {
			break
		}
		out = append(out, p)
	}
	return out, nil
}

// passReport is a report without its notices.
func passReport(r *reminderjob.Report) *reminderv1.PassReport {
	held := r.HeldLines()
	out := &reminderv1.PassReport{
		Claimed: int32(r.Claimed), Sent: int32(r.Sent), Waiting: int32(r.Waiting), Parked: int32(r.Parked),
		Silenced: int32(r.Silenced), Tasks: int32(r.Tasks), HeldForHours: int32(r.Held), Counts: r.Counts(), HeldLines: int32(len(held)),
	}
	out.Held, _ = first(held, func(p reminder.Pending) (*reminderv1.PendingLine, error) { return reminderwire.PendingProto(p), nil })
	return out
}

// PreviewNotice implements the ReminderService.
func (s *Service) PreviewNotice(ctx context.Context, r *reminderv1.PreviewNoticeRequest) (*reminderv1.PreviewNoticeResponse, error) {
	ask, err := previewAsk(r)
	if err != nil {
		return nil, err
	}
	p, err := s.Job.Preview(ctx, ask)
	if err != nil {
		return nil, err
	}
	out := &reminderv1.PreviewNoticeResponse{Message: p.Message, WouldGo: p.WouldGo}
	if p.Notice != nil {
		out.Notice = reminderwire.NoticeProto(*p.Notice)
	}
	for _, l := range p.Lines {
		out.Lines = append(out.Lines, reminderwire.PendingProto(l))
	}
	return out, nil
}

func previewAsk(r *reminderv1.PreviewNoticeRequest) (ask reminderjob.PreviewAsk, err error) {
	if ask.Serial, _, err = resname.Serial("parent", reminderwire.VehicleForm, r.GetParent()); err != nil {
		return ask, err
	}
	if ask.Day, err = reminderwire.Day("on_date", r.GetOnDate()); err != nil {
		return ask, err
	}
	if r.GetPerson() != "" {
		if ask.Person, err = reminderwire.ID("person", reminderwire.PersonForm, r.GetPerson()); err != nil {
			return ask, err
		}
	}
	ask.Channel = reminderwire.Channel(r.GetChannel())
	if ask.Channel == "" && r.GetChannel() != reminderv1.Channel_CHANNEL_UNSPECIFIED {
		return ask, fault.InvalidField("channel", r.GetChannel().String(), "mail, text or letter")
	}
	if ask.Purpose, err = reminderwire.Purpose("purpose", r.GetPurpose()); err != nil {
		return ask, err
	}
	if ask.Purpose.Once() {
		return ask, fault.InvalidField("purpose", r.GetPurpose().String(), "service, the letter at the year's end or safety: what comes once is sent when somebody asks for it")
	}
	if ask.Purpose == reminder.YearLetter && ask.Channel == reminder.Text {
		return ask, fault.InvalidField("channel", r.GetChannel().String(), "mail or letter: the year does not fit into a text message")
	}
	return ask, nil
}

// ListPassDays implements the ReminderService.
func (s *Service) ListPassDays(ctx context.Context, r *reminderv1.ListPassDaysRequest) (*reminderv1.ListPassDaysResponse, error) {
	size, before, err := pageOf(r, r.GetPageSize(), r.GetPageToken())
	if err != nil {
		return nil, err
	}
	days, err := s.Store.PassDays(ctx, before, size+1)
	if err != nil {
		return nil, err
	}
	out := &reminderv1.ListPassDaysResponse{}
	out.PassDays, out.NextPageToken = page.Cut(r, days, size, func(d *reminderv1.PassDay) string {
		return strings.TrimPrefix(d.GetName(), "passDays/")
	})
	return out, nil
}
