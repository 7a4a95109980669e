//go:build long

package main

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"halfshaft/services/vehicle"
	"halfshaft/testdata/aldermoor"
)

// TestLongTenThousandVehicles imports 10,000 vehicles with 20 readings and 10
// service entries each from CSV, as a works with spreadsheets would, and prints
// what the figures of the README come from: how long the import takes, how
// soon the services are ready over it, and how much memory they then hold.
func TestLongTenThousandVehicles(t *testing.T) {
	dir := t.TempDir()
	files := filepath.Join(dir, "files")
	if err := os.CopyFS(files, aldermoor.Files); err != nil {
		t.Fatal(err)
	}
	fleet := filepath.Join(dir, "fleet")
	writeFleet(t, fleet, 10_000)
	data := filepath.Join(dir, "data")
	begin := time.Now()
	out, ok := halfshaftFor(t, 30*time.Minute, data, "import", files, fleet)
	if !ok {
		t.Fatalf("the fleet was refused:\n%.4000s", out)
	}
	t.Logf("import: %.0f s\n%.2000s", time.Since(begin).Seconds(), out)

	begin = time.Now()
	p := serve(t, data, "--date", aldermoor.Today.String())
	t.Logf("ready after %d ms, of which the process itself counts: %s", time.Since(begin).Milliseconds(), firstLine(p.out.String(), "is ready"))
	for _, name := range []string{"VmRSS", "RssAnon", "RssFile"} {
		t.Logf("%s when ready: %d MB", name, memory(t, p, name)>>10)
	}
	if all := memory(t, p, "VmRSS") >> 10; all > 400 {
		t.Errorf("%d MB of memory for 10,000 vehicles, the database file's mapped pages among them, want under 400", all)
	}
	if _, ok := halfshaft(t, data, "due", "--within", "60d", "--json"); !ok {
		t.Error("due was refused")
	}
	t.Logf("VmRSS after asking what is due: %d MB (RssAnon %d MB)", memory(t, p, "VmRSS")>>10, memory(t, p, "RssAnon")>>10)
	if anon := memory(t, p, "RssAnon") >> 10; anon > 400 {
		t.Errorf("%d MB of memory of its own after the whole fleet was asked for, want under 400", anon)
	}
	begin = time.Now()
	p.stop(t)
	t.Logf("stopped in %d ms", time.Since(begin).Milliseconds())
	begin = time.Now()
	if out, ok := halfshaftFor(t, 30*time.Minute, data, "import", files, fleet); !ok {
		t.Errorf("the same import again: %s", out)
	}
	t.Logf("the same import again: %.0f s", time.Since(begin).Seconds())
}

// firstLine gives the line of a text that holds a word.
func firstLine(text, word string) string {
	for line := range strings.SplitSeq(text, "\n") {
		if strings.Contains(line, word) {
			return line
		}
	}
	return ""
}

// memory reads a figure of a process in kilobytes.
func memory(t *testing.T, p *process, name string) int64 {
	t.Helper()
	raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", p.cmd.Process.Pid))
	if err != nil {
		t.Fatal(err)
	}
	var kb int64
	fmt.Sscan(strings.TrimPrefix(firstLine(string(raw), name+":"), name+":"), &kb)
	return kb
}

// writeFleet writes CSV files of a fleet that was never hard to date: what
// counts here is its size.
func writeFleet(t *testing.T, dir string, vehicles int) {
	t.Helper()
	if err := os.MkdirAll(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	builds := newTable(t, dir, "builds", "serial,frame number,release,wheelbase,donor year,delivery reading,build date,delivery date")
	components := newTable(t, dir, "components", "serial,position,component serial,lot")
	readings := newTable(t, dir, "readings", "serial,reading date,value,source")
	entries := newTable(t, dir, "service entries", "serial,id,service date,reading,items,done by")
	for i, made := 0, 0; made < vehicles; i++ {
		body := fmt.Sprintf("BX%05d", i)
		serial, err := vehicle.NewSerial(body)
		if err != nil {
			continue // its check character is not issued
		}
		made++
		delivered := vehicle.MustDate(2011, 3, 1).AddDays(i % 1800)
		builds.row(serial, fmt.Sprintf("FR%06d", i), "R1", "short", 1957+i%15, "12 mi", delivered.AddDays(-20), delivered)
		for c, position := range []string{"engine", "gearbox", "transfer-case", "front-axle-differential", "rear-axle-differential"} {
			components.row(serial, position, fmt.Sprintf("U%d%05d", c, i), fmt.Sprintf("L%03d", i%200))
		}
		for r := range 20 {
			readings.row(serial, delivered.AddDays(90+r*180), fmt.Sprintf("%d mi", 400+r*(300+i%700)), "owner")
		}
		for e := range 10 {
			entries.row(serial, fmt.Sprintf("%s-%d", body, e), delivered.AddDays(180+e*365),
				fmt.Sprintf("%d mi", 420+(300+i%700)*(2*e)+(300+i%700)/2), "E01; G01; T01; B01", "the works")
		}
	}
	for _, table := range []*csvTable{builds, components, readings, entries} {
		table.close(t)
	}
}

// csvTable writes cells that need no quotes.
type csvTable struct {
	file *os.File
	w    *bufio.Writer
}

func newTable(t *testing.T, dir, name, header string) *csvTable {
	t.Helper()
	f, err := os.Create(filepath.Join(dir, name+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	c := &csvTable{f, bufio.NewWriter(f)}
	fmt.Fprintln(c.w, header)
	return c
}

func (c *csvTable) row(cells ...any) {
	for i, cell := range cells {
		if i > 0 {
			c.w.WriteByte(',')
		}
		fmt.Fprint(c.w, cell)
	}
	c.w.WriteByte('\n')
}

func (c *csvTable) close(t *testing.T) {
	t.Helper()
	if err := c.w.Flush(); err != nil {
		t.Fatal(err)
	}
	if err := c.file.Close(); err != nil {
		t.Fatal(err)
	}
}
