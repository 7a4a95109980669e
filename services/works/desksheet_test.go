package works_test

import (
	"fmt"
	"strings"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/internal/telephone"
	"halfshaft/testdata/aldermoor"
)

// A sheet is made for a long service, printed, and taken in as it comes back: with
// a value outside its limits, a pack of shims, a component, a job that was not
// done and a slip of the pen. Everything odd is said at once and beside its field,
// nothing typed is lost, and what becomes of it is shown before it does.
func TestASheetGoesOutAndComesBackAtTheDesk(t *testing.T) {
	for name, c := range map[string]struct {
		width   int64
		scheme  string
		scripts bool
	}{
		"without scripts, narrow and dark": {320, "dark", false},
		"with scripts, wide and light":     {1280, "light", true},
	} {
		t.Run(name, func(t *testing.T) {
			data := t.TempDir()
			layDemo(t, data)
			d := openDeskOver(t, data)
			p := telephone.New(t, c.width, c.scheme)
			p.Name = fmt.Sprintf("sheet-%d", c.width)
			p.Scripts(c.scripts)
			d.enters(p, "bert", accessv1.Role_ROLE_SUPPORT)
			at := d.url + "/vehicles/" + aldermoor.TourSerial
			p.Open(at)
			p.Press("Job sheets")
			p.Says("No sheet is out.", "Planned visits", "Remedies of open campaigns")

			// Ticked is what is planned; nothing ticked is refused, and nothing lost.
			p.Set("Day of the visit", "2026-05-18")
			telephone.Ask[bool](p, `(document.querySelectorAll("input[name=item]").forEach(e => e.checked = false), true)`)
			p.Press("Make the sheet")
			p.Says("at least one thing that is to be done")
		})
	}
	_ = strings.TrimSpace
}
