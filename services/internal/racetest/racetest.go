// Package racetest lets a test ask whether the race detector watches it, under
// which everything takes five to ten times as long.
package racetest

import "testing"

// Skip leaves a test out under the race detector, where that has nothing to find
// that other tests do not show it. `make test` runs such a test afterwards
// without it: .ci/unraced finds the calls, each of which therefore stands in the
// test itself, with the reason.
func Skip(t testing.TB, why string) {
	t.Helper()
	if On {
		t.Skipf("make test runs it without the race detector: %s", why)
	}
}
