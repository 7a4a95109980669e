package exchangerun

import (
	"encoding/json"
	"fmt"
	"io"

	"halfshaft/services/exchange"
)

// Report says what an import found and did.
type Report struct {
	Files     int              `json:"files"`
	Tables    []Count          `json:"tables,omitempty"`    // what was read
	Faults    []exchange.Fault `json:"faults,omitempty"`    // when there are any, nothing was written
	Total     int              `json:"faultCount"`          // of faults; more than listed when a file is wrong in every cell
	NotLooked []string         `json:"notLooked,omitempty"` // what the faults kept from being checked, in sentences
	DryRun    bool             `json:"dryRun"`
	New       int              `json:"new"`       // records that are not there, or otherwise: to be written
	Written   int              `json:"written"`   // records written
	Unchanged int              `json:"unchanged"` // records that were there already, the same

	Left    []string `json:"left,omitempty"`                // files of a history, which no import takes in
	OptOuts []OptOut `json:"optOutsNotTakenOver,omitempty"` // by those files, and not known here
}

// Count is how many rows, or documents, of a kind were read.
type Count struct {
	Table string `json:"table"`
	Rows  int    `json:"rows"`
}

// WriteJSON prints the report for programs.
func (r *Report) WriteJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(r)
}

// WriteText prints the report for people.
func (r *Report) WriteText(w io.Writer) error {
	if r.Total > 0 {
		return r.writeFaults(w)
	}
	for _, c := range r.Tables {
		if _, err := fmt.Fprintf(w, "  %-18s %7d\n", c.Table, c.Rows); err != nil {
			return err
		}
	}
	there := number(r.Unchanged, "record is", "records are") + " there already"
	what := fmt.Sprintf("%s written, %d %s there already.", number(r.Written, "record", "records"), r.Unchanged, were(r.Unchanged))
	if r.DryRun {
		what = fmt.Sprintf("Nothing is wrong. Nothing was written: this was a dry run. %s would be written; %s.",
			number(r.New, "record", "records"), there)
	}
	if _, err := fmt.Fprintln(w, what); err != nil {
		return err
	}
	return r.writeLeft(w)
}

func (r *Report) writeFaults(w io.Writer) error {
	if err := exchange.WriteFaults(w, r.Faults); err != nil {
		return err
	}
	for _, sentence := range r.NotLooked {
		if _, err := fmt.Fprintf(w, "\n%s\n", sentence); err != nil {
			return err
		}
	}
	more := ""
	if r.Total > len(r.Faults) {
		more = fmt.Sprintf(", of which %d are listed", len(r.Faults))
	}
	_, err := fmt.Fprintf(w, "\n%s%s in %s: nothing was written.\n", number(r.Total, "fault", "faults"), more, number(r.Files, "file", "files"))
	return err
}

func number(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func were(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}
