package accessaudit

import (
	"context"

	"halfshaft/services/access/audit"
	"halfshaft/services/vehicle"
)

// Proof is what a proof of the chain in the store came to.
type Proof struct {
	audit.Report
	Pending int64 // lines that wait for their place: nothing is proved of them
}

// Prove reads the whole chain as it stands at one revision and holds it
// against its own end and the checkpoints taken before.
func (s *Store) Prove(ctx context.Context, today vehicle.Date, checkpoints []audit.Checkpoint) (Proof, error) {
	st, err := s.State(ctx, 1)
	if err != nil {
		return Proof{}, err
	}
	pending, err := s.Waiting(ctx, st.Revision)
	if err != nil {
		return Proof{}, err
	}
	r, err := audit.Verify(s.Lines(ctx, Span{Revision: st.Revision}),
		audit.Expected{Today: today, Checkpoints: checkpoints, Known: true, End: st.End})
	return Proof{r, pending}, err
}
