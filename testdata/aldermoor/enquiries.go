package aldermoor

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
)

// What the demo's staff were asked, and the notes that they answer from. Every
// note is a sample, to be signed by the works' engineer: common practice of the
// trade, no source.
var (
	//go:embed enquiries/notes.csv
	notesFile []byte
	//go:embed enquiries/enquiries.csv
	enquiriesFile []byte
)

// AnswerNote is a note of the demo.
type AnswerNote struct {
	Name, Title, Text, Caution    string
	Releases, Positions, Keywords []string
}

// Enquiry is a question that somebody asked of the demo works.
type Enquiry struct {
	Serial               string
	DaysAgo              int // before Today
	Channel, Asker       string
	Person, Organisation string // identifiers; empty for none
	Question, Symptom    string
	Positions            []string
	Answer               string // given at once; empty for none
	Links                []string
	FollowUpDays         int // after Today; 0 for never
	Closed               bool
}

// AnswerNotes gives the demo's notes.
func AnswerNotes() ([]AnswerNote, error) {
	var out []AnswerNote
	err := eachRow("notes", notesFile, func(cell func(string) string) error {
		out = append(out, AnswerNote{
			Name: cell("name"), Title: cell("title"), Text: cell("text"), Caution: cell("caution"),
			Releases: several(cell("releases")), Positions: several(cell("positions")), Keywords: several(cell("keywords")),
		})
		return nil
	})
	return out, err
}

// Enquiries gives what was asked of the demo works.
func Enquiries() ([]Enquiry, error) {
	var out []Enquiry
	err := eachRow("enquiries", enquiriesFile, func(cell func(string) string) error {
		ago, err := strconv.Atoi(cell("days ago"))
		if err != nil {
			return err
		}
		e := Enquiry{
			Serial: cell("serial"), DaysAgo: ago, Channel: cell("channel"), Asker: cell("asker"), Person: cell("person"),
			Organisation: cell("organisation"), Question: cell("question"), Symptom: cell("symptom"), Positions: several(cell("positions")),
			Answer: cell("answer"), Links: several(cell("links")), Closed: cell("closed") == "yes",
		}
		if days := cell("follow up in days"); days != "" {
			e.FollowUpDays, err = strconv.Atoi(days)
		}
		out = append(out, e)
		return err
	})
	return out, err
}

// several reads a cell of several values.
func several(cell string) []string {
	if cell == "" {
		return nil
	}
	return strings.Split(cell, "; ")
}

// eachRow calls each for the rows of a table.
func eachRow(name string, file []byte, each func(cell func(string) string) error) error {
	rows, err := csv.NewReader(bytes.NewReader(file)).ReadAll()
	if err != nil {
		return fmt.Errorf("read the demo's %s: %w", name, err)
	}
	columns := map[string]int{}
	for i, c := range rows[0] {
		columns[c] = i
	}
	for i, row := range rows[1:] {
		if err := each(func(column string) string { return row[columns[column]] }); err != nil {
			return fmt.Errorf("read row %d of the demo's %s: %w", i+2, name, err)
		}
	}
	return nil
}
