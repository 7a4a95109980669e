package reminderrpc

import (
	"context"
	"fmt"
	"slices"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderjob"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
)

// withEntry gives the vehicle with the rounds that the entry of an answer ended,
// so that the answer may still name them: the entry is recorded before the
// answer that says so. It refuses an entry that is not there or was struck out,
// and rounds of items that the entry is not about.
func (s *Service) withEntry(ctx context.Context, v reminder.Vehicle, a reminder.Answer, today vehicle.Date) (reminder.Vehicle, error) {
	if a.ServiceEntry == "" {
		return v, nil
	}
	if a.Kind != reminder.Done {
		return v, fault.InvalidField("service_entry", a.ServiceEntry, "nothing, except of work that is done")
	}
	entry, err := s.entry(ctx, a.Serial, a.ServiceEntry)
	if err != nil {
		return v, err
	}
	if entry == nil || entry.GetVoidReason() != "" {
		return v, fault.InvalidField("service_entry", a.ServiceEntry, "an entry of "+reminderwire.VehicleName(a.Serial)+" that stands")
	}
	var wrong []fault.Field
	v.Items = slices.Clone(v.Items)
	for n, cycle := range a.Cycles {
		id, began, _ := strings.Cut(cycle, ".")
		if !slices.ContainsFunc(entry.GetItems(), func(done *schedulev1.ItemDone) bool { return done.GetItemId() == id }) {
			wrong = append(wrong, fault.Field{Name: fmt.Sprintf("cycles[%d]", n), Got: cycle, Want: "a round of an item that the entry is about"})
			continue
		}
		day, err := vehicle.ParseDate(began)
		at := slices.IndexFunc(v.Items, func(i reminder.Item) bool { return i.ID == id })
		if at < 0 || err != nil || day.After(today) || v.Items[at].Cycle == cycle && !v.Items[at].ActBy.IsZero() {
			continue
		}
		ended := v.Items[at]
		ended.Cycle, ended.Began, ended.ActBy = cycle, day, a.Day
		v.Items = append(v.Items, ended)
	}
	return v, fault.InvalidFields(wrong)
}

// entry gives a service entry of a vehicle; nil when there is none.
func (s *Service) entry(ctx context.Context, serial vehicle.Serial, name string) (*schedulev1.ServiceEntry, error) {
	var found *schedulev1.ServiceEntry
	err := page.Each(func(token string) ([]*schedulev1.ServiceEntry, string, error) {
		r, err := s.Job.Schedules.ListServiceEntries(reminderjob.AsService(ctx), &schedulev1.ListServiceEntriesRequest{
			Parent: reminderwire.VehicleName(serial), PageSize: 500, PageToken: token,
		})
		return r.GetServiceEntries(), r.GetNextPageToken(), err
	}, func(e *schedulev1.ServiceEntry) error {
		if e.GetName() == name {
			found = e
		}
		return nil
	})
	if err != nil {
		return nil, rpcerr.FromStatus(err)
	}
	return found, nil
}
