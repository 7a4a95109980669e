package ownerrpc

import (
	"context"
	"fmt"
	"time"

	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerstore"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/vehicle/vehiclewire"
)

// RetentionJob is the pass that erases people whose time is over and removes
// photographs of before two years ago. It comes once a week, not each night: an
// erasure replaces the master key, and somebody has to copy the new one. It never
// comes at the first start: what was imported just before would lose people whom
// nobody had a chance to keep.
func (s *Service) RetentionJob() leader.Job {
	return leader.Job{
		Name: "retention-people", Spec: "20 4 * * 1", Patient: true,
		Pass: func(ctx context.Context, _ time.Time, fence kv.Fence) error { return s.retain(ctx, fence) },
	}
}

// retain makes one pass. What it does is selected from what is on record, so
// that a pass more does nothing. Where a record cannot be read, or a photograph
// not be removed, the pass ends there and is made again.
func (s *Service) retain(ctx context.Context, fence kv.Fence) error {
	for { // until all is done: the people of one replacement of the master key at a time
		if err := s.store.Follow(ctx); err != nil {
			return err
		}
		expired, err := s.store.Expired(s.years, s.today())
		if err != nil {
			return err
		}
		var people []ownerstore.Erase
		for _, x := range expired {
			switch {
			case x.Held:
			case x.Document != "":
				if err := s.store.DropDocument(ctx, fence, x.Person, x.Document); err != nil {
					return fmt.Errorf("remove a photograph: %w", err)
				}
			case len(people) < ownerstore.MostErased:
				people = append(people, ownerstore.Erase{Etag: x.Etag, Erasure: owner.Erasure{
					Person: x.Person, At: s.now(), Ground: s.ground(), RecordedBy: "retention",
				}})
			}
		}
		if len(people) == 0 {
			return s.store.DropStrayFiles(ctx)
		}
		if err := s.eraseExpired(ctx, fence, people); err != nil {
			return err
		}
	}
}

// ground says on what ground the pass erases.
func (s *Service) ground() string {
	return fmt.Sprintf("tied to no vehicle for %d years", s.years)
}

func (s *Service) eraseExpired(ctx context.Context, fence kv.Fence, people []ownerstore.Erase) error {
	resume, err := s.staging.Pause(ctx)
	if err != nil {
		return err
	}
	defer resume()
	err = s.store.EraseExpired(ctx, fence, people)
	if fault.Is(err, fault.Aborted) {
		return fmt.Errorf("somebody changed the record of one of them meanwhile: %w", err)
	}
	if err == nil {
		s.logger.Info("people whose time was over were erased", "count", len(people))
		err = s.group.Wait(ctx, ownerstore.Service, s.store.Revision())
	}
	return err
}

// ListRetention implements the OwnerService.
func (s *Service) ListRetention(_ context.Context, r *privacyv1.ListRetentionRequest) (*privacyv1.ListRetentionResponse, error) {
	expired, err := s.store.Expired(s.years, s.today())
	if err != nil {
		return nil, err
	}
	var lines []*privacyv1.RetentionLine
	for _, x := range expired {
		lines = append(lines, retentionLine(x))
	}
	list, next, err := pageOf(r, lines, func(l *privacyv1.RetentionLine) string { return l.GetName() })
	return &privacyv1.ListRetentionResponse{Lines: list, NextPageToken: next}, err
}

func retentionLine(x ownerstore.Expired) *privacyv1.RetentionLine {
	l := &privacyv1.RetentionLine{
		Name: ownerwire.PersonName(x.Person), Keep: privacyv1.Keep_KEEP_WITH_PERSON, Sentence: x.Sentence(),
		DueDate: vehiclewire.DateProto(x.Due), Held: x.Held,
	}
	if x.Document != "" {
		l.Name, l.Keep = ownerwire.DocumentName(x.Person, x.Document), privacyv1.Keep_KEEP_WITH_DOCUMENT
		l.Sentence = fmt.Sprintf("Removed: a photograph that came on %s.", x.Last)
	}
	return l
}
