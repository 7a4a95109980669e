package exchangerun

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/exchange/exchangefile"
	"halfshaft/services/internal/page"
)

const allVehicles = "vehicles/-"

// exportHistory writes what was said to owners and heard from them, which goes
// one way: no import takes it in.
func exportHistory(ctx context.Context, c Clients, write func(file string, m proto.Message) error) error {
	steps := []func() error{
		func() error {
			return page.Each(func(token string) ([]*reminderv1.Notice, string, error) {
				r, err := c.Reminders.ListNotices(ctx, &reminderv1.ListNoticesRequest{Parent: allVehicles, PageSize: linesPage, PageToken: token})
				return r.GetNotices(), r.GetNextPageToken(), err
			}, func(m *reminderv1.Notice) error {
				m.SealedBody = nil
				return write(exchangefile.HistoryNotices, m)
			})
		},
		func() error {
			return page.Each(func(token string) ([]*reminderv1.Task, string, error) {
				r, err := c.Reminders.ListTasks(ctx, &reminderv1.ListTasksRequest{IncludeCompleted: true, PageSize: linesPage, PageToken: token})
				return r.GetTasks(), r.GetNextPageToken(), err
			}, func(m *reminderv1.Task) error { return write(exchangefile.HistoryTasks, m) })
		},
		func() error {
			return page.Each(func(token string) ([]*reminderv1.Answer, string, error) {
				r, err := c.Reminders.ListAnswers(ctx, &reminderv1.ListAnswersRequest{Parent: allVehicles, PageSize: linesPage, PageToken: token})
				return r.GetAnswers(), r.GetNextPageToken(), err
			}, func(m *reminderv1.Answer) error { return write(exchangefile.HistoryAnswers, m) })
		},
		func() error {
			return c.optOuts(ctx, func(m *reminderv1.OptOut) error { return write(exchangefile.HistoryOptOuts, m) })
		},
		func() error {
			return page.Each(func(token string) ([]*reminderv1.Cadence, string, error) {
				r, err := c.Reminders.ListCadences(ctx, &reminderv1.ListCadencesRequest{PageToken: token})
				return r.GetCadences(), r.GetNextPageToken(), err
			}, func(m *reminderv1.Cadence) error {
				if m.GetEtag() == "" {
					return nil // the usual one
				}
				return write(exchangefile.HistoryCadences, m)
			})
		},
		func() error {
			return page.Each(func(token string) ([]*ownerv1.Transfer, string, error) {
				r, err := c.Owners.ListTransfers(ctx, &ownerv1.ListTransfersRequest{Parent: allVehicles, PageSize: linesPage, PageToken: token})
				return r.GetTransfers(), r.GetNextPageToken(), err
			}, func(m *ownerv1.Transfer) error { return write(exchangefile.HistoryTransfers, m) })
		},
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

func (c Clients) optOuts(ctx context.Context, take func(*reminderv1.OptOut) error) error {
	return page.Each(func(token string) ([]*reminderv1.OptOut, string, error) {
		r, err := c.Reminders.ListOptOuts(ctx, &reminderv1.ListOptOutsRequest{Parent: allVehicles, PageSize: linesPage, PageToken: token})
		return r.GetOptOuts(), r.GetNextPageToken(), err
	}, take)
}

// OptOut is somebody who does not want to be written to and is not taken over.
type OptOut struct {
	Serial  string `json:"serial"`
	Person  string `json:"person"`  // "p0031"
	Purpose string `json:"purpose"` // "service" or "year-letter"
}

// leaveHistory notes which files of a history are left, and who does not want
// to be written to by them while the services know nothing of it.
func (r *importRun) leaveHistory(ctx context.Context, paths []string) error {
	var err error
	if r.report.Left, err = exchangefile.HistoryFiles(paths); err != nil || len(r.report.Left) == 0 {
		return err
	}
	var said []*reminderv1.OptOut
	for _, file := range r.report.Left {
		more, err := exchangefile.OptOuts(file, r.collection)
		if err != nil {
			return err
		}
		said = append(said, more...)
	}
	there := map[OptOut]bool{}
	if len(said) > 0 {
		if err := r.clients.optOuts(ctx, func(o *reminderv1.OptOut) error { there[optOut(o)] = true; return nil }); err != nil {
			return err
		}
	}
	for _, o := range said {
		if one := optOut(o); !there[one] {
			there[one] = true
			r.report.OptOuts = append(r.report.OptOuts, one)
		}
	}
	return nil
}

func optOut(o *reminderv1.OptOut) OptOut {
	purpose := "service"
	if o.GetPurpose() == ownerv1.Purpose_PURPOSE_YEAR_LETTER {
		purpose = "year-letter"
	}
	return OptOut{strings.TrimPrefix(o.GetVehicle(), "vehicles/"), strings.TrimPrefix(o.GetPerson(), "people/"), purpose}
}

// writeLeft says what was left, and what to do about those who do not want to
// be written to.
func (r *Report) writeLeft(w io.Writer) error {
	if len(r.Left) == 0 {
		return nil
	}
	var dirs []string
	for _, file := range r.Left {
		dirs = append(dirs, filepath.Dir(file))
	}
	if _, err := fmt.Fprintf(w, "Left as it is: what was said to owners and heard from them, in %s.\n", strings.Join(slices.Compact(dirs), ", ")); err != nil {
		return err
	}
	if len(r.OptOuts) == 0 {
		return nil
	}
	_, err := fmt.Fprintf(w, "\nNOT TAKEN OVER: %s not to be written to. Record it before a reminder pass runs here:\n",
		number(len(r.OptOuts), "wish", "wishes"))
	for _, o := range r.OptOuts {
		if err == nil {
			_, err = fmt.Fprintf(w, "  halfshaft stop %s %s --purpose %s\n", o.Serial, o.Person, o.Purpose)
		}
	}
	return err
}
