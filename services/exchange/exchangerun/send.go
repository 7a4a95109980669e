package exchangerun

import (
	"context"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/exchange"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
)

// The most that one chunk holds; the services say the same.
const (
	maxChunkRows  = 100
	maxChunkBytes = 190 << 10 // of 200 KiB, the rest for what wraps the rows
)

// shipment is what one service is sent.
type shipment struct {
	service exchange.Service
	id      string
	drafts  []*exchange.Draft
	chunks  int
	looked  bool // of enquiries: they were looked at, and are to be kept now
}

// send stages everything with every service, then lets them commit one after
// the other, in the order in which they refer to each other. Enquiries are looked
// at by their service first, and staged when the owner service has committed: what
// people said is sealed under their keys before a word of it is kept.
func (r *importRun) send(ctx context.Context) error {
	var all []*shipment
	total := 0
	for _, s := range exchange.Services() {
		if drafts := r.collection.Pending(s); len(drafts) > 0 {
			all = append(all, &shipment{service: s, id: r.collection.ID(drafts), drafts: drafts})
			total += len(drafts)
		}
	}
	if err := r.keepHandbooks(ctx); err != nil {
		return err
	}
	staged := 0
	for _, s := range all {
		if err := r.stage(ctx, s, func(rows int) {
			staged += rows
			r.options.Progress("stage", staged, total)
		}); err != nil {
			return err
		}
	}
	if r.refused() {
		return nil
	}
	for i, s := range all {
		r.options.Progress("commit", i, len(all))
		if s.service == exchange.Enquiry {
			if err := r.stageSealed(ctx, s); err != nil {
				return err
			}
		}
		written, unchanged, err := r.commit(ctx, s)
		if r.note(err, nil) {
			if i > 0 {
				return fmt.Errorf("%s refused its part after %s had committed: mend the files and import them again", s.service, all[i-1].service)
			}
			r.refused()
			return nil
		}
		if err != nil {
			return fmt.Errorf("commit to %s: %w; run the same import again to go on", s.service, err)
		}
		r.report.Written += written
		r.report.Unchanged += unchanged
	}
	r.options.Progress("commit", len(all), len(all))
	return nil
}

// stageSealed stages what was only looked at before. Other services may have
// committed by then: what is refused now is said as an error.
func (r *importRun) stageSealed(ctx context.Context, s *shipment) error {
	s.chunks, s.looked = 0, true
	if err := r.stage(ctx, s, func(int) {}); err != nil {
		return err
	}
	if r.refused() {
		return fmt.Errorf("%s refused its part after others had committed: mend the files and import them again", s.service)
	}
	return nil
}

// stage sends one service its chunks.
func (r *importRun) stage(ctx context.Context, s *shipment, sent func(rows int)) error {
	for rest := s.drafts; len(rest) > 0; s.chunks++ {
		rows, n := r.chunk(s.service, rest)
		err := r.stageChunk(ctx, s, rows)
		if !r.note(err, rest) && err != nil {
			return fmt.Errorf("stage with %s: %w; run the same import again to go on", s.service, err)
		}
		sent(n)
		rest = rest[n:]
	}
	return nil
}

// chunk wraps as many records as fit.
func (r *importRun) chunk(s exchange.Service, drafts []*exchange.Draft) (rows []proto.Message, n int) {
	bytes := 0
	for _, d := range drafts {
		row := newRow(s)
		r.collection.Wrap(d, row)
		size := proto.Size(row) + 8
		if n > 0 && (n == maxChunkRows || bytes+size > maxChunkBytes) {
			break
		}
		rows, n, bytes = append(rows, row), n+1, bytes+size
	}
	return rows, n
}

func newRow(s exchange.Service) proto.Message {
	switch s {
	case exchange.Build:
		return &buildv1.BuildRow{}
	case exchange.Parts:
		return &partsv1.PartRow{}
	case exchange.Schedule:
		return &schedulev1.HistoryRow{}
	case exchange.Bulletin:
		return &bulletinv1.BulletinRow{}
	case exchange.Warranty:
		return &warrantyv1.WarrantyRow{}
	case exchange.Enquiry:
		return &enquiryv1.EnquiryRow{}
	case exchange.Handbook:
		return &handbookv1.HandbookRow{}
	}
	return &ownerv1.OwnerRow{}
}

// as gives the rows in the type of their service.
func as[T proto.Message](rows []proto.Message) []T {
	out := make([]T, len(rows))
	for i, r := range rows {
		out[i] = r.(T)
	}
	return out
}

func (r *importRun) stageChunk(ctx context.Context, s *shipment, rows []proto.Message) (err error) {
	sequence := int32(s.chunks)
	switch s.service {
	case exchange.Build:
		_, err = r.clients.Builds.StageImport(ctx, &buildv1.StageImportRequest{ImportId: s.id, Sequence: sequence, Rows: as[*buildv1.BuildRow](rows)})
	case exchange.Parts:
		_, err = r.clients.Parts.StageImport(ctx, &partsv1.StageImportRequest{ImportId: s.id, Sequence: sequence, Rows: as[*partsv1.PartRow](rows)})
	case exchange.Schedule:
		_, err = r.clients.Schedules.StageImport(ctx, &schedulev1.StageImportRequest{ImportId: s.id, Sequence: sequence, Rows: as[*schedulev1.HistoryRow](rows)})
	case exchange.Owner:
		_, err = r.clients.Owners.StageImport(ctx, &ownerv1.StageImportRequest{ImportId: s.id, Sequence: sequence, Rows: as[*ownerv1.OwnerRow](rows)})
	case exchange.Bulletin:
		_, err = r.clients.Bulletins.StageImport(ctx, &bulletinv1.StageImportRequest{ImportId: s.id, Sequence: sequence, Rows: as[*bulletinv1.BulletinRow](rows)})
	case exchange.Warranty:
		_, err = r.clients.Warranties.StageImport(ctx, &warrantyv1.StageImportRequest{ImportId: s.id, Sequence: sequence, Rows: as[*warrantyv1.WarrantyRow](rows)})
	case exchange.Enquiry:
		_, err = r.clients.Enquiries.StageImport(ctx, &enquiryv1.StageImportRequest{ImportId: s.id, Sequence: sequence, Rows: as[*enquiryv1.EnquiryRow](rows), ValidateOnly: !s.looked})
	case exchange.Handbook:
		_, err = r.clients.Handbooks.StageImport(ctx, &handbookv1.StageImportRequest{ImportId: s.id, Sequence: sequence, Rows: as[*handbookv1.HandbookRow](rows)})
	}
	return err
}

func (r *importRun) commit(ctx context.Context, s *shipment) (written, unchanged int, err error) {
	id, chunks := s.id, int32(s.chunks)
	var a interface {
		GetWritten() int32
		GetUnchanged() int32
	}
	switch s.service {
	case exchange.Build:
		a, err = r.clients.Builds.CommitImport(ctx, &buildv1.CommitImportRequest{ImportId: id, Chunks: chunks})
	case exchange.Parts:
		a, err = r.clients.Parts.CommitImport(ctx, &partsv1.CommitImportRequest{ImportId: id, Chunks: chunks})
	case exchange.Schedule:
		a, err = r.clients.Schedules.CommitImport(ctx, &schedulev1.CommitImportRequest{ImportId: id, Chunks: chunks})
	case exchange.Bulletin:
		a, err = r.clients.Bulletins.CommitImport(ctx, &bulletinv1.CommitImportRequest{ImportId: id, Chunks: chunks})
	case exchange.Warranty:
		a, err = r.clients.Warranties.CommitImport(ctx, &warrantyv1.CommitImportRequest{ImportId: id, Chunks: chunks})
	case exchange.Enquiry:
		a, err = r.clients.Enquiries.CommitImport(ctx, &enquiryv1.CommitImportRequest{ImportId: id, Chunks: chunks})
	case exchange.Handbook:
		a, err = r.clients.Handbooks.CommitImport(ctx, &handbookv1.CommitImportRequest{ImportId: id, Chunks: chunks})
	default:
		a, err = r.clients.Owners.CommitImport(ctx, &ownerv1.CommitImportRequest{ImportId: id, Chunks: chunks})
	}
	return int(a.GetWritten()), int(a.GetUnchanged()), err
}

// numbered takes "rows[3].build.frame_number" apart.
var numbered = regexp.MustCompile(`^rows\[(\d+)\]\.?(.*)$`)

// note turns the refusal of a service into faults at the rows it complains of,
// and says whether it was one. staged is what the chunk held; nil after a
// commit, whose complaints name their records.
func (r *importRun) note(err error, staged []*exchange.Draft) bool {
	if err == nil {
		return false
	}
	f := rpcerr.FromStatus(err)
	if (f.Kind != fault.Invalid && f.Kind != fault.FailedPrecondition) || len(f.Fields) == 0 {
		return false
	}
	for _, field := range f.Fields {
		m := numbered.FindStringSubmatch(field.Name)
		if m == nil || staged == nil {
			r.collection.RefuseRow(field)
			continue
		}
		index, _ := strconv.Atoi(m[1])
		if index >= len(staged) {
			r.collection.RefuseRow(field)
			continue
		}
		_, path, _ := strings.Cut(m[2], ".") // what wraps the record: "build", "part"
		r.collection.Refuse(staged[index], path, r.collection.Own(staged[index], path, field.Got), field.Want)
	}
	return true
}
