//go:build long

package bulletin_test

import "testing"

// TestASetIsWhatANaiveScanFindsLong takes minutes, nearly all of them in the
// plain implementation.
func TestASetIsWhatANaiveScanFindsLong(t *testing.T) { compareSets(t, 10_000, 1_000) }
