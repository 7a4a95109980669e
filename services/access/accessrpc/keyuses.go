package accessrpc

import (
	"context"
	"fmt"
	"strconv"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/fault"
)

// mostUses is how many uses a gate may tell of at once.
const mostUses = 500

// NoteKeyUses implements the AccessService. A use is kept to the hour: when
// exactly somebody was at work is nobody's business. A gate whose clock is
// ahead is believed up to the present.
func (s *Service) NoteKeyUses(ctx context.Context, r *accessv1.NoteKeyUsesRequest) (*accessv1.NoteKeyUsesResponse, error) {
	if n := len(r.GetUses()); n > mostUses {
		return nil, fault.InvalidField("uses", strconv.Itoa(n), fmt.Sprintf("at most %d at once", mostUses))
	}
	var faults []fault.Field
	at, now := map[string]time.Time{}, s.now()
	for i, u := range r.GetUses() {
		path := fmt.Sprintf("uses[%d]", i)
		id, err := accesswire.KeyID("key", u.GetKey())
		faults = append(faults, fault.FieldsUnder(path, fault.FieldsOf("", err))...)
		if t := u.GetLastUseTime(); t == nil || !t.IsValid() {
			faults = append(faults, fault.Field{Name: path + ".last_use_time", Got: t.String(), Want: "a time"})
			continue
		}
		when := u.GetLastUseTime().AsTime()
		if when.After(now) {
			when = now
		}
		if when = when.Truncate(time.Hour); err == nil && when.After(at[id]) {
			at[id] = when
		}
	}
	if err := fault.InvalidFields(faults); err != nil {
		return nil, err
	}
	for id := range at {
		if _, there := s.store.Get(id); !there {
			delete(at, id)
		}
	}
	revision, err := s.store.NoteUses(ctx, at)
	if err != nil {
		return nil, err
	}
	return &accessv1.NoteKeyUsesResponse{}, s.group.Wait(ctx, accessstore.Service, revision)
}
