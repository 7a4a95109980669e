package console

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/google/uuid"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// JobSheet is a sheet that is asked for.
type JobSheet struct {
	On    vehicle.Date // the visit; the next planned one when zero
	Items []string     // none: what is planned
	Keep  bool         // give it a number and keep it
	PDF   string       // write it there; only of one that is kept
	Paper string
}

// MakeJobSheet prints the sheet for a visit, and keeps it where that is asked.
func (c *Console) MakeJobSheet(ctx context.Context, serial string, j JobSheet) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	m, err := c.JobSheets.CreateJobSheet(ctx, &jobsheetv1.CreateJobSheetRequest{
		Parent: "vehicles/" + serialOf(name), VisitDate: vehiclewire.DateProto(j.On), ItemIds: j.Items, RequestId: uuid.NewString(),
		ValidateOnly: !j.Keep && j.PDF == "",
	})
	if err != nil {
		return err
	}
	if j.PDF != "" {
		if err := c.writeJobSheet(ctx, m.GetName(), j.PDF, j.Paper); err != nil {
			return err
		}
	}
	return c.print(m, func(s *sheet) { jobSheetText(s, serialOf(name), m) })
}

// ShowJobSheet prints a sheet, or writes its paper to a file.
func (c *Console) ShowJobSheet(ctx context.Context, name, file, paper string) error {
	m, err := c.JobSheets.GetJobSheet(ctx, &jobsheetv1.GetJobSheetRequest{Name: name})
	if err != nil {
		return err
	}
	if file != "" {
		if err := c.writeJobSheet(ctx, name, file, paper); err != nil {
			return err
		}
	}
	return c.print(m, func(s *sheet) { jobSheetText(s, serialOf(name), m) })
}

// writeJobSheet writes the paper of a sheet to a file.
func (c *Console) writeJobSheet(ctx context.Context, name, file, paper string) error {
	stream, err := c.JobSheets.DownloadJobSheet(ctx, &jobsheetv1.DownloadJobSheetRequest{Name: name, Paper: paper})
	if err != nil {
		return err
	}
	var pdf []byte
	for {
		chunk, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return os.WriteFile(file, pdf, 0o600)
		}
		if err != nil {
			return err
		}
		pdf = append(pdf, chunk.GetData()...)
	}
}

// ListJobSheets prints the sheets of a vehicle, or with "-" of all.
func (c *Console) ListJobSheets(ctx context.Context, serial string) error {
	parent := "vehicles/-"
	if serial != "-" {
		name, err := c.open(ctx, serial)
		if err != nil {
			return err
		}
		parent = "vehicles/" + serialOf(name)
	}
	all, err := page.All(func(token string) ([]*jobsheetv1.JobSheet, string, error) {
		r, err := c.JobSheets.ListJobSheets(ctx, &jobsheetv1.ListJobSheetsRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetJobSheets(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return c.print(&jobsheetv1.ListJobSheetsResponse{JobSheets: all}, func(s *sheet) {
		if len(all) == 0 {
			s.line("There are no job sheets.")
		}
		for _, m := range all {
			s.line("%s  visit of %s  %s", m.GetName(), day(m.GetVisitDate()), sheetState(m))
		}
	})
}

// CancelJobSheet says that a sheet is not used.
func (c *Console) CancelJobSheet(ctx context.Context, name string) error {
	m, err := c.JobSheets.GetJobSheet(ctx, &jobsheetv1.GetJobSheetRequest{Name: name})
	if err != nil {
		return err
	}
	if m, err = c.JobSheets.CancelJobSheet(ctx, &jobsheetv1.CancelJobSheetRequest{Name: name, Etag: m.GetEtag(), RequestId: uuid.NewString()}); err != nil {
		return err
	}
	return c.print(m, func(s *sheet) { s.line("%s is %s.", m.GetName(), sheetState(m)) })
}

// StrikeJobSheet strikes out what came back on a sheet.
func (c *Console) StrikeJobSheet(ctx context.Context, name, reason string) error {
	m, err := c.JobSheets.GetJobSheet(ctx, &jobsheetv1.GetJobSheetRequest{Name: name})
	if err != nil {
		return err
	}
	if m, err = c.JobSheets.VoidJobReturn(ctx, &jobsheetv1.VoidJobReturnRequest{Name: name, Reason: reason, Etag: m.GetEtag(), RequestId: uuid.NewString()}); err != nil {
		return err
	}
	return c.print(m, func(s *sheet) { s.line("%s is %s.", m.GetName(), sheetState(m)) })
}

// JobReturn is what came back on a sheet, as typed on the command line; File is a
// JobReturn as YAML, to which the rest is added.
type JobReturn struct {
	File, Reading, DoneBy, Note string
	On                          vehicle.Date
	Lines                       []string // "3.1=0.12mm"
	Confirm                     []string // "3.1=why"
	Check                       bool
}

// ReturnJobSheet takes in what came back, or only says what is odd about it. The
// jobs of the lines are done; so are, without a file, all that ask for no value.
func (c *Console) ReturnJobSheet(ctx context.Context, name string, r JobReturn) error {
	m, err := c.JobSheets.GetJobSheet(ctx, &jobsheetv1.GetJobSheetRequest{Name: name})
	if err != nil {
		return err
	}
	back, err := r.read(m)
	if err != nil {
		return err
	}
	if r.Check {
		found, err := c.JobSheets.CheckJobReturn(ctx, &jobsheetv1.CheckJobReturnRequest{Name: name, JobReturn: back})
		if err != nil {
			return err
		}
		return c.print(found, func(s *sheet) { doubtsText(s, found.GetDoubts()) })
	}
	done, err := c.JobSheets.ReturnJobSheet(ctx, &jobsheetv1.ReturnJobSheetRequest{Name: name, JobReturn: back, Etag: m.GetEtag(), RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(done, func(s *sheet) {
		s.line("%s is %s.", done.GetName(), sheetState(done))
		for _, record := range done.GetJobReturn().GetRecords() {
			s.line("  %s", record)
		}
	})
}

// read puts file and flags together.
func (r *JobReturn) read(m *jobsheetv1.JobSheet) (*jobsheetv1.JobReturn, error) {
	back := &jobsheetv1.JobReturn{DoneBy: r.DoneBy, Note: r.Note, ServiceDate: vehiclewire.DateProto(r.On)}
	if r.File != "" {
		raw, err := os.ReadFile(r.File)
		if err != nil {
			return nil, err
		}
		if err := readYAML(raw, back); err != nil {
			return nil, err
		}
	} else {
		for _, j := range m.GetJobs() {
			if len(j.GetValues()) == 0 {
				back.Jobs = append(back.Jobs, &jobsheetv1.JobDone{Number: j.GetNumber(), Done: true})
			}
		}
	}
	if r.Reading != "" {
		reading, err := vehicle.ParseQuantity(r.Reading)
		if err != nil {
			return nil, fault.InvalidField("reading", r.Reading, "a number and its unit: 4120 mi")
		}
		entered := vehicle.Entered{Value: reading.Value, Unit: vehicle.Unit(reading.Unit)}
		back.Reading = vehiclewire.EnteredProto(entered)
	}
	for _, line := range r.Lines {
		at, text, ok := strings.Cut(line, "=")
		q, err := vehicle.ParseQuantity(text)
		if !ok || err != nil {
			return nil, fault.InvalidField("line", line, "the line of the sheet and its value: 3.1=0.12mm")
		}
		job := jobOf(m, at)
		if job == nil {
			return nil, fault.InvalidField("line", line, "a line of the sheet")
		}
		done := doneOf(back, job.GetNumber())
		done.Values = append(done.Values, &jobsheetv1.JobMeasured{Line: at, Value: vehiclewire.QuantityProto(q)})
	}
	for _, said := range r.Confirm {
		at, text, _ := strings.Cut(said, "=")
		back.Confirmed = append(back.Confirmed, &jobsheetv1.JobConfirmation{Line: at, Text: text})
	}
	return back, nil
}

func jobOf(m *jobsheetv1.JobSheet, line string) *jobsheetv1.Job {
	for _, j := range m.GetJobs() {
		for _, v := range j.GetValues() {
			if v.GetLine() == line {
				return j
			}
		}
	}
	return nil
}

func doneOf(back *jobsheetv1.JobReturn, number int32) *jobsheetv1.JobDone {
	for _, d := range back.GetJobs() {
		if d.GetNumber() == number {
			d.Done = true
			return d
		}
	}
	back.Jobs = append(back.Jobs, &jobsheetv1.JobDone{Number: number, Done: true})
	return back.Jobs[len(back.Jobs)-1]
}

func doubtsText(s *sheet, doubts []*jobsheetv1.JobDoubt) {
	if len(doubts) == 0 {
		s.line("Nothing is odd about it.")
	}
	for _, d := range doubts {
		label := "  wrong    "
		if d.GetCanConfirm() {
			label = "  confirm  "
		}
		s.text(label, d.GetReason().GetSentence())
	}
}

func sheetState(m *jobsheetv1.JobSheet) string {
	return strings.ReplaceAll(strings.ToLower(strings.TrimPrefix(m.GetState().String(), "JOB_SHEET_STATE_")), "_", " ")
}

// jobSheetText prints a sheet.
func jobSheetText(s *sheet, serial string, m *jobsheetv1.JobSheet) {
	title := "Job sheet for " + serial + ", not kept"
	if m.GetName() != "" {
		title = m.GetName() + ", " + sheetState(m)
	}
	s.line("%s: visit of %s", title, day(m.GetVisitDate()))
	for _, w := range m.GetWarnings() {
		s.text("  FIRST    ", w.GetSentence())
	}
	for _, caution := range m.GetCautions() {
		s.text("  CAUTION  ", caution)
	}
	for _, p := range m.GetParts() {
		text := fmt.Sprintf("%d x %s %s", p.GetQuantity(), p.GetPart(), p.GetTitle())
		if p.GetIfNeeded() {
			text += ", if needed"
		}
		s.text("  part     ", text)
	}
	for _, f := range m.GetFluids() {
		s.text("  fluid    ", strings.TrimSpace(quantity(f.GetQuantity())+" "+f.GetFluid()))
	}
	if len(m.GetTools()) > 0 {
		s.text("  tools    ", strings.Join(m.GetTools(), ", "))
	}
	for _, j := range m.GetJobs() {
		s.heading("%d  %s  %s", j.GetNumber(), j.GetItemId(), j.GetTitle())
		for _, caution := range j.GetCautions() {
			s.text("  CAUTION  ", caution)
		}
		for _, set := range j.GetSettings() {
			s.text("  set      ", strings.Join(strings.Fields(set.GetTitle()+" "+set.GetLower()+" .. "+set.GetUpper()+" "+set.GetUnit()), " "))
		}
		for _, v := range j.GetValues() {
			last := ""
			if len(v.GetLast()) > 0 {
				last = ", last " + quantity(v.GetLast()[0].GetValue()) + " on " + day(v.GetLast()[0].GetValueDate())
			}
			s.text("  "+v.GetLine()+"  ", strings.TrimSpace(v.GetTitle()+" "+place(v.GetPosition()))+": "+windowOf(v)+last+" ________")
		}
		for _, p := range j.GetShims() {
			s.text("  shims    ", strings.TrimSpace(place(p.GetPosition())+": in "+quantity(p.GetPack())+" "+p.GetPackText()+"; aim for "+p.GetWindow()))
		}
	}
	for _, g := range m.GetGaps() {
		s.text("  missing  ", g.GetSentence())
	}
	if m.GetRefusal() != nil {
		s.text("  REFUSED  ", m.GetRefusal().GetSentence())
	}
	if m.GetSample() {
		s.line("  values   sample, to be signed by the works' engineer")
	}
}

func windowOf(v *jobsheetv1.JobValue) string {
	switch {
	case v.GetLower() != "" && v.GetUpper() != "":
		return v.GetLower() + " to " + v.GetUpper() + " " + v.GetUnit()
	case v.GetUpper() != "":
		return "at most " + v.GetUpper() + " " + v.GetUnit()
	case v.GetLower() != "":
		return "at least " + v.GetLower() + " " + v.GetUnit()
	}
	return "in " + v.GetUnit()
}
