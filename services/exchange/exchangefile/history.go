package exchangefile

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/exchange"
)

// historyDir is where an export tells what was said and heard, as JSON lines
// that no import takes in.
const historyDir = "history"

// The files of the history, without their ending.
const (
	HistoryNotices   = "notices"
	HistoryTasks     = "tasks"
	HistoryAnswers   = "answers"
	HistoryOptOuts   = "opt-outs"
	HistoryCadences  = "cadences"
	HistoryTransfers = "transfers"
)

// aboutHistory stands beside the files.
const aboutHistory = `What was said to owners and heard from them, one JSON object a line, as the API has it.
halfshaft import leaves these files as they are: they are for reading, and for other programs.

notices.jsonl    every message: to whom, by which way, about what, what became of it; without the messages
tasks.jsonl      what the works had to look into, and what came of it
answers.jsonl    work that owners said is booked, put off or done
opt-outs.jsonl   who does not want to be written to about which vehicle: halfshaft import names them,
                 for each to be recorded again with "halfshaft stop"
cadences.jsonl   how classes of items are reminded of, where the works changed that
transfers.jsonl  changes of owner, offered and done

People stand here by their identifiers. The secret addresses of calendars and the links in
messages stand nowhere: they end with the store that they were made in.
`

// History writes one line of a file of the history.
func (w *Writer) History(file string, m proto.Message) error {
	h, err := w.historyFile(file + ".jsonl")
	if err != nil {
		return err
	}
	raw, err := protojson.Marshal(m)
	if err != nil {
		return err
	}
	var line bytes.Buffer // protojson varies its spaces, so that nobody relies on them
	if err := json.Compact(&line, raw); err != nil {
		return err
	}
	line.WriteByte('\n')
	_, err = h.out.Write(line.Bytes())
	return err
}

func (w *Writer) historyFile(name string) (*tableFile, error) {
	if h := w.history[name]; h != nil {
		return h, nil
	}
	dir := filepath.Join(w.dir, historyDir)
	if len(w.history) == 0 {
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return nil, err
		}
		if err := os.WriteFile(filepath.Join(dir, "README.txt"), []byte(aboutHistory), 0o600); err != nil {
			return nil, err
		}
	}
	f, err := os.OpenFile(filepath.Join(dir, name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, err
	}
	h := &tableFile{file: f, out: bufio.NewWriterSize(f, 64<<10)}
	w.history[name] = h
	return h, nil
}

func (w *Writer) closeHistory() error {
	var errs []error
	for _, h := range w.history {
		errs = append(errs, h.out.Flush(), h.file.Sync(), h.file.Close())
	}
	return errors.Join(errs...)
}

// HistoryFiles lists the files of histories below the paths, in order.
func HistoryFiles(paths []string) ([]string, error) {
	var out []string
	for _, path := range paths {
		err := filepath.WalkDir(path, func(name string, d fs.DirEntry, err error) error {
			if err == nil && d.Type().IsRegular() && filepath.Ext(name) == ".jsonl" && filepath.Base(filepath.Dir(name)) == historyDir {
				out = append(out, name)
			}
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}

// OptOuts reads who does not want to be written to, of a file that
// HistoryFiles gave; nobody of any other file. What is wrong becomes a fault in
// the collection: an import that cannot name them all must not go on.
func OptOuts(path string, c *exchange.Collection) ([]*reminderv1.OptOut, error) {
	if filepath.Base(path) != HistoryOptOuts+".jsonl" {
		return nil, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var out []*reminderv1.OptOut
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, MaxRecordBytes)
	for row := 1; lines.Scan(); row++ {
		text := strings.TrimSpace(lines.Text())
		if text == "" {
			continue
		}
		o := &reminderv1.OptOut{}
		if err := (protojson.UnmarshalOptions{DiscardUnknown: true}).Unmarshal([]byte(text), o); err != nil || o.GetVehicle() == "" || o.GetPerson() == "" {
			c.Faults.Add(exchange.Fault{File: path, Row: row, Got: text, Want: "who does not want to be written to, as an export writes it"})
			continue
		}
		out = append(out, o)
	}
	if errors.Is(lines.Err(), bufio.ErrTooLong) {
		c.Faults.Add(exchange.Fault{File: path, Want: "lines of at most " + size(MaxRecordBytes)})
		return out, nil
	}
	return out, lines.Err()
}
