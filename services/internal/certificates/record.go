package certificates

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/internal/wholefile"
	"halfshaft/services/wording"
)

// Issued is one certificate that the authority signed, as its record keeps it.
type Issued struct {
	Name   string    `json:"name"`
	For    Use       `json:"for"`
	Hosts  []string  `json:"hosts,omitempty"`
	Serial string    `json:"serial"` // hexadecimal
	Begins time.Time `json:"begins"`
	Ends   time.Time `json:"ends"`
	Made   time.Time `json:"made"`
	Renews string    `json:"renews,omitempty"` // serial of the one before
}

// note adds a line to the record, whole and on the disk. A last line that was
// cut short is left behind by what follows it.
func (a *Authority) note(i Issued) error {
	line, err := json.Marshal(i)
	if err != nil {
		return err
	}
	f, err := os.OpenFile(filepath.Join(a.dir, recordFile), os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o600)
	if err != nil {
		return err
	}
	whole := append(line, '\n')
	if info, err := f.Stat(); err == nil && info.Size() > 0 {
		last := make([]byte, 1)
		if _, err := f.ReadAt(last, info.Size()-1); err == nil && last[0] != '\n' {
			whole = append([]byte{'\n'}, whole...)
		}
	}
	_, err = f.Write(whole)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close(), wholefile.SyncDir(a.dir))
}

// List gives all that was signed, in the order in which it was.
func List(dir string) ([]Issued, error) {
	if _, err := os.Stat(CAFile(dir)); errors.Is(err, fs.ErrNotExist) {
		return nil, noAuthority(dir)
	}
	text, err := os.ReadFile(filepath.Join(dir, recordFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return parseRecord(text), nil
}

// parseRecord reads the lines that are whole.
func parseRecord(text []byte) []Issued {
	var all []Issued
	for line := range bytes.SplitSeq(text, []byte("\n")) {
		var i Issued
		if json.Unmarshal(line, &i) == nil && isName(i.Name) {
			all = append(all, i)
		}
	}
	return all
}

// Newest gives the newest certificate for a name.
func Newest(dir, name string) (Issued, error) {
	all, err := List(dir)
	if err != nil {
		return Issued{}, err
	}
	for i := len(all) - 1; i >= 0; i-- {
		if all[i].Name == name {
			return all[i], nil
		}
	}
	return Issued{}, fault.New(fault.NotFound, "NO_CERTIFICATE", "This authority signed nothing for %q: \"halfshaft certs list\" says what it did.", name)
}

var uses = map[Use]string{
	ForProcess: "a process of the works, to be called and to call",
	ForServer:  "a server, to be called",
	ForEtcd:    "a member of the etcd cluster, to be called and to call",
	ForClient:  "a client, to call",
}

// Sentence says what a certificate is for and when it ends.
func (i Issued) Sentence(now time.Time) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s is for %s", i.Name, uses[i.For])
	if len(i.Hosts) > 0 {
		fmt.Fprintf(&b, ", reached at %s", wording.List(i.Hosts, "and"))
	}
	fmt.Fprintf(&b, ". It %s.", ending(i.Ends, now))
	return b.String()
}

// Particulars are what one compares with a file: serial and dates.
func (i Issued) Particulars() string {
	text := fmt.Sprintf("Serial %s, signed on %s", i.Serial, day(i.Made))
	if i.Renews != "" {
		text += ", in place of " + i.Renews
	}
	return text + "."
}

// Sentences say what was signed, a line each. One that another took the place
// of is said to be so: it is good until it ends, wherever it still is in use.
func Sentences(all []Issued, now time.Time) (lines []string) {
	replaced := map[string]bool{}
	for _, i := range all {
		replaced[i.Renews] = true
	}
	for _, i := range all {
		line := i.Sentence(now)
		if replaced[i.Serial] {
			line = strings.TrimSuffix(i.Sentence(now), ": renew it.") // it was
			line = strings.TrimSuffix(line, ".") + "; another has taken its place."
		}
		lines = append(lines, line)
	}
	return lines
}

// Watched is how long before its end a certificate is spoken of.
const Watched = 30 * 24 * time.Hour

// ending says when something ends, as "ends on 3 May 2027, in 158 days".
func ending(ends, now time.Time) string {
	days := int(midnight(ends).Sub(midnight(now)) / (24 * time.Hour))
	switch left := ends.Sub(now); {
	case left <= 0:
		return "ended on " + day(ends)
	case days <= 1:
		return fmt.Sprintf("ends on %s, by tomorrow: renew it", day(ends))
	case left < Watched:
		return fmt.Sprintf("ends on %s, in %d days: renew it", day(ends), days)
	default:
		return fmt.Sprintf("ends on %s, in %d days", day(ends), days)
	}
}

// midnight is the beginning of a day in UTC.
func midnight(t time.Time) time.Time { return t.UTC().Truncate(24 * time.Hour) }

func day(t time.Time) string { return t.UTC().Format("2 January 2006") }
