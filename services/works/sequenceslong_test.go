//go:build long

package works_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// TestLongRandomSequencesOfChangesAgainstADumbModel is the same with 10,000. Each
// works begins anew: what was ever tied to a vehicle or assigned to anybody stays
// on record, in the works and in the model, and whoever asks goes through all of
// it, so that one works for all would take longer and longer.
func TestLongRandomSequencesOfChangesAgainstADumbModel(t *testing.T) {
	const works, each = 40, 250
	for n := range works {
		t.Run(fmt.Sprintf("works %d of %d", n+1, works), func(t *testing.T) {
			randomSequences(t, rand.NewPCG(7, uint64(n)), each)
		})
	}
}
