package works

import (
	"bufio"
	"fmt"
	"io"
	"iter"
	"os"
	"strconv"
	"strings"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// ReadCheckpoints reads checkpoints of the audit as "audit checkpoint" prints
// them: one on a line, its number, its hash, and when it was taken. Empty lines
// and those that begin with # are left out.
func ReadCheckpoints(paths []string) ([]*accessv1.AuditCheckpoint, error) {
	var all []*accessv1.AuditCheckpoint
	for _, path := range paths {
		text, err := os.ReadFile(path)
		if err != nil {
			return nil, err
		}
		before := len(all)
		for line := range strings.SplitSeq(string(text), "\n") {
			if line = strings.TrimSpace(line); line == "" || line[0] == '#' {
				continue
			}
			c, err := parseCheckpoint(line)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", path, err)
			}
			all = append(all, accesswire.CheckpointProto(c))
		}
		if len(all) == before {
			return nil, fault.InvalidField("checkpoint", path, "a file with a line of \"halfshaft audit checkpoint\"")
		}
	}
	return all, nil
}

func parseCheckpoint(line string) (audit.Checkpoint, error) {
	fields := strings.Fields(line)
	bad := func() (audit.Checkpoint, error) {
		return audit.Checkpoint{}, fault.InvalidField("checkpoint", line, "NUMBER HASH TIME, as \"halfshaft audit checkpoint\" prints it")
	}
	if len(fields) < 2 || len(fields) > 3 {
		return bad()
	}
	n, err := strconv.ParseInt(fields[0], 10, 64)
	hash, ok := audit.ParseDigest(fields[1])
	if err != nil || n < 0 || !ok {
		return bad()
	}
	c := audit.Checkpoint{Sequence: n, Hash: hash}
	if len(fields) == 3 {
		if c.Time, err = time.Parse(time.RFC3339, fields[2]); err != nil {
			return bad()
		}
	}
	return c, nil
}

// VerifyAuditFile proves an export of the audit without asking any service.
func VerifyAuditFile(path string, checkpoints []*accessv1.AuditCheckpoint, today vehicle.Date) (*accessv1.CheckAuditResponse, error) {
	known, err := accesswire.Checkpoints("checkpoint", checkpoints)
	if err != nil {
		return nil, err
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	report, err := audit.Verify(exported(file), audit.Expected{Today: today, Checkpoints: known})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return accesswire.ReportProto(report), nil
}

// longestLine is more than any line of the audit needs.
const longestLine = 1 << 20

// exported reads an export. A line of it that is none ends it: what cannot be
// read proves nothing.
func exported(r io.Reader) iter.Seq2[audit.Sealed, error] {
	return func(yield func(audit.Sealed, error) bool) {
		scan := bufio.NewScanner(r)
		scan.Buffer(nil, longestLine)
		for n := 1; scan.Scan(); n++ {
			s, err := audit.ParseExport(scan.Text())
			if err != nil {
				yield(s, fmt.Errorf("line %d of the file: %w", n, err))
				return
			}
			if !yield(s, nil) {
				return
			}
		}
		if err := scan.Err(); err != nil {
			yield(audit.Sealed{}, err)
		}
	}
}
