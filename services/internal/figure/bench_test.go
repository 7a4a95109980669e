package figure_test

import (
	"testing"

	"halfshaft/services/internal/figure"
)

// BenchmarkBlock makes what a page takes of a ledger of 200 readings: both
// layouts, written as SVG, and the table.
func BenchmarkBlock(b *testing.B) {
	l, r := longLedger(), figure.Reader{}
	for b.Loop() {
		figure.Block("f", r, func(at figure.Layout) figure.Figure { return l.Figure(r, at) })
	}
}
