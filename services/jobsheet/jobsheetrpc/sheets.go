package jobsheetrpc

import (
	"context"
	"fmt"
	"slices"
	"strconv"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/jobsheet"
	"halfshaft/services/jobsheet/jobsheetprint"
	"halfshaft/services/jobsheet/jobsheetstore"
	"halfshaft/services/jobsheet/jobsheetwire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

const (
	maxItems   = 200 // that one request names
	usualPage  = 50
	mostPage   = 500
	chunkBytes = 64 << 10
)

// CreateJobSheet implements the JobSheetService.
func (s *Service) CreateJobSheet(ctx context.Context, r *jobsheetv1.CreateJobSheetRequest) (*jobsheetv1.JobSheet, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	serial, _, err := resname.Serial("parent", jobsheetwire.VehicleForm, r.GetParent())
	if err != nil {
		return nil, err
	}
	on, err := vehiclewire.Date(r.GetVisitDate())
	if err != nil {
		return nil, fault.InvalidField("visit_date", r.GetVisitDate().String(), "a day of the calendar")
	}
	if n := len(r.GetItemIds()); n > maxItems {
		return nil, fault.InvalidField("item_ids", strconv.Itoa(n), "at most 200")
	}
	q := jobsheetstore.Request{ID: r.GetRequestId(), Payload: r}
	if k, found, err := s.store.Replay(ctx, q); err != nil || found {
		return shown(ctx, k), err
	}
	facts, err := s.facts(ctx, serial, on, r.GetItemIds())
	if err != nil {
		return nil, err
	}
	sheet, err := jobsheet.Make(facts)
	if err != nil {
		return nil, err
	}
	s.packs(ctx, &sheet)
	sheet.MadeBy, sheet.Created = access.CallerFrom(ctx).Bearer, s.now()
	if r.GetValidateOnly() {
		return jobsheetwire.SheetProto(&sheet), nil
	}
	for range 20 { // somebody else may take the number
		sheet.Number = s.store.Next(serial)
		k := jobsheetstore.Kept{Serial: serial, Number: sheet.Number, Message: &jobsheetv1.KeptJobSheet{JobSheet: jobsheetwire.SheetProto(&sheet)}}
		k, err = s.store.Put(audit.Making(ctx, sheet.Name()), q, k)
		if err == nil {
			return shown(ctx, k), nil
		}
		if !fault.Is(err, fault.Aborted) {
			return nil, err
		}
	}
	return nil, err
}

// GetJobSheet implements the JobSheetService.
func (s *Service) GetJobSheet(ctx context.Context, r *jobsheetv1.GetJobSheetRequest) (*jobsheetv1.JobSheet, error) {
	k, err := s.kept(r.GetName())
	if err != nil {
		return nil, err
	}
	return shown(ctx, k), nil
}

// shown is a sheet as the caller may read it: to a dealer it does not say which
// people of others made it and took it in.
func shown(ctx context.Context, k jobsheetstore.Kept) *jobsheetv1.JobSheet {
	p := k.Sheet()
	caller := access.CallerFrom(ctx)
	if caller.Role != access.Dealer {
		return p
	}
	if p.GetMadeBy() != caller.Bearer {
		p.MadeBy = ""
	}
	if p.GetStrike() != nil && p.GetStrike().GetStruckBy() != caller.Bearer {
		p.Strike.StruckBy = ""
	}
	if back := p.GetJobReturn(); back != nil && back.GetTakenInBy() != caller.Bearer {
		back.TakenInBy = ""
	}
	return p
}

// kept finds the sheet of a name.
func (s *Service) kept(name string) (jobsheetstore.Kept, error) {
	serial, n, err := jobsheetwire.SheetID("name", name)
	if err != nil {
		return jobsheetstore.Kept{}, err
	}
	return s.store.Sheet(serial, n)
}

// ListJobSheets implements the JobSheetService.
func (s *Service) ListJobSheets(ctx context.Context, r *jobsheetv1.ListJobSheetsRequest) (*jobsheetv1.ListJobSheetsResponse, error) {
	var serial vehicle.Serial
	if r.GetParent() != "vehicles/-" {
		var err error
		if serial, _, err = resname.Serial("parent", jobsheetwire.VehicleForm, r.GetParent()); err != nil {
			return nil, err
		}
	}
	size, err := page.Size(r.GetPageSize(), usualPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	found := s.store.Sheets(serial, func(k jobsheetstore.Kept) bool {
		return len(r.GetStates()) == 0 || slices.Contains(r.GetStates(), k.Message.GetJobSheet().GetState())
	})
	if after != "" {
		i := slices.IndexFunc(found, func(k jobsheetstore.Kept) bool { return placeOf(k) == after })
		if i < 0 {
			return nil, fault.InvalidField("page_token", r.GetPageToken(), "the next_page_token of the same request; the list has changed")
		}
		found = found[i+1:]
	}
	out := &jobsheetv1.ListJobSheetsResponse{}
	found, out.NextPageToken = page.Cut(r, found, size, placeOf)
	for _, k := range found {
		if k, err = s.store.Sheet(k.Serial, k.Number); err != nil { // all of it
			return nil, err
		}
		p := shown(ctx, k)
		p.Jobs = nil
		out.JobSheets = append(out.JobSheets, p)
	}
	return out, nil
}

func placeOf(k jobsheetstore.Kept) string { return fmt.Sprintf("%s/%d", k.Serial, k.Number) }

// CancelJobSheet implements the JobSheetService.
func (s *Service) CancelJobSheet(ctx context.Context, r *jobsheetv1.CancelJobSheetRequest) (*jobsheetv1.JobSheet, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	q := jobsheetstore.Request{ID: r.GetRequestId(), Payload: r}
	if k, found, err := s.store.Replay(ctx, q); err != nil || found {
		return shown(ctx, k), err
	}
	k, err := s.open(r.GetName(), r.GetEtag())
	if err != nil {
		return nil, err
	}
	next := cloned(k)
	next.Message.JobSheet.State = jobsheetv1.JobSheetState_JOB_SHEET_STATE_CANCELLED
	next, err = s.store.Put(ctx, q, next)
	if err != nil {
		return nil, err
	}
	return shown(ctx, next), nil
}

// open finds an open sheet as a caller read it.
func (s *Service) open(name, etag string) (jobsheetstore.Kept, error) {
	k, err := s.kept(name)
	if err != nil {
		return k, err
	}
	if err := kv.Matches("etag", etag, k.Revision); err != nil {
		return k, err
	}
	if state := jobsheet.State(k.Message.GetJobSheet().GetState()); state != jobsheet.Open {
		return k, fault.New(fault.FailedPrecondition, "JOB_SHEET_NOT_OPEN", "Job sheet %d of %s is %s.", k.Number, k.Serial, state)
	}
	return k, nil
}

// DownloadJobSheet implements the JobSheetService.
func (s *Service) DownloadJobSheet(r *jobsheetv1.DownloadJobSheetRequest, out jobsheetv1.JobSheetService_DownloadJobSheetServer) error {
	k, err := s.kept(r.GetName())
	if err != nil {
		return err
	}
	sheet, err := jobsheetwire.Sheet(k.Message.GetJobSheet())
	if err != nil {
		return err
	}
	pdf, err := jobsheetprint.PDF(&sheet, s.Works, r.GetPaper())
	if err != nil {
		return err
	}
	for chunk := range slices.Chunk(pdf, chunkBytes) {
		if err := out.Send(&jobsheetv1.DownloadJobSheetResponse{Data: chunk}); err != nil {
			return err
		}
	}
	return nil
}
