package exchangefile

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/prototext"

	"halfshaft/services/exchange"
)

// taken collects the rows that a reader gives.
type taken struct {
	rows  []int
	cells [][]exchange.Cell
}

func (k *taken) take(row int, cells []exchange.Cell) bool {
	k.rows = append(k.rows, row)
	k.cells = append(k.cells, append([]exchange.Cell(nil), cells...))
	return true
}

// read reads one file as Import does and gives the faults in the form
// "sheet, row, column: got, want".
func read(t *testing.T, name string, content []byte) (*exchange.Collection, []string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	return readFile(t, path)
}

func readFile(t *testing.T, path string) (*exchange.Collection, []string) {
	t.Helper()
	c := exchange.NewCollection()
	if err := Read(path, c); err != nil {
		t.Fatalf("the machine failed: %v", err)
	}
	c.Join()
	var faults []string
	for _, f := range c.Faults.Sorted() {
		faults = append(faults, fmt.Sprintf("%s, %d, %s: %s, %s", f.Sheet, f.Row, f.Column, f.Got, f.Want))
	}
	return c, faults
}

// only wants exactly one fault, and that it says what is given.
func only(t *testing.T, faults []string, parts ...string) {
	t.Helper()
	if len(faults) != 1 {
		t.Fatalf("got %d faults, want one: %s", len(faults), strings.Join(faults, "\n"))
	}
	for _, part := range parts {
		if !strings.Contains(faults[0], part) {
			t.Errorf("the fault does not say %q: %s", part, faults[0])
		}
	}
}

// drafts gives the records of a table as text.
func drafts(c *exchange.Collection, table string) string {
	var out []string
	for _, d := range c.Drafts(exchange.TableNamed(table)) {
		out = append(out, prototext.MarshalOptions{}.Format(c.Message(d)))
	}
	// The library varies the spaces between fields from build to build.
	return strings.ReplaceAll(strings.Join(out, "\n"), "  ", " ")
}

// underMemory runs f and wants the heap, with all that it ever held, to stay
// below a bound. The bound is loose: what it catches is reading without end.
func underMemory(t *testing.T, mebibytes uint64, f func()) {
	t.Helper()
	f()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	if m.HeapSys > mebibytes<<20 {
		t.Errorf("the heap grew to %d MiB, want below %d", m.HeapSys>>20, mebibytes)
	}
}

// asFault wants the error to be a fault of the file.
func asFault(t *testing.T, err error) *malformed {
	t.Helper()
	var bad *malformed
	if !errors.As(err, &bad) {
		t.Fatalf("got %v, want a fault of the file", err)
	}
	return bad
}
