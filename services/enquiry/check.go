package enquiry

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Bounds of what is kept, of words in characters.
const (
	maxWords     = 4000
	maxSymptom   = 200
	maxPositions = 20
	maxPosition  = 80
	maxLinks     = 20
	maxLink      = 200
	maxAnswers   = 40
)

// maxBytes bounds what is said in an enquiry together, with what its answers rest
// on: it is sealed in one piece, kept in one record and sent in one part of an
// import, each of which holds 190 KiB at least. A question and forty answers of
// maxWords each fit, where letters are of one byte.
const maxBytes = 170 << 10

// collector gathers what is wrong, so that all of it is said at once.
type collector []fault.Field

func (c *collector) add(name, got, want string) {
	*c = append(*c, fault.Field{Name: name, Got: got, Want: want})
}

// Check says all that is wrong with an enquiry as it is to be kept. Days are by
// the clock of the works, which is the zone of now.
func (e Enquiry) Check(now time.Time) error {
	var bad collector
	if e.Channel == NoChannel || e.Channel >= channelsEnd {
		bad.add("channel", "", "TELEPHONE, MAIL, LETTER, TEXT or VISIT")
	}
	if e.Asker == NoAsker || e.Asker >= askersEnd {
		bad.add("asker_kind", "", "OWNER, DEALER, MECHANIC, BUYER, WORKS or OTHER")
	}
	if e.Asker == Works && e.Person != "" {
		bad.add("person", "", "nobody where somebody of the works asks")
	}
	if e.Organisation != "" && e.Asker != Dealer && e.Asker != Mechanic {
		bad.add("organisation", e.Organisation, "none but where a dealer or a mechanic asks")
	}
	checkText(&bad, "question", e.Question, maxWords, e.Symptom == "")
	checkSymptom(&bad, e.Symptom)
	checkPositions(&bad, "positions", e.Positions)
	for i, a := range e.Answers {
		bad = append(bad, fault.FieldsUnder(fmt.Sprintf("answers[%d]", i), a.faults(false))...)
	}
	if n := e.bytes(); n > maxBytes {
		bad.add("answers", fmt.Sprintf("%d KiB with the question", (n+1023)>>10), fmt.Sprintf("at most %d KiB", maxBytes>>10))
	}
	e.checkDays(&bad, now)
	return fault.InvalidFields(bad)
}

// bytes is how much room is taken by what is said, and by what it rests on.
func (e Enquiry) bytes() int {
	n := len(e.Question)
	for _, a := range e.Answers {
		n += len(a.Text)
		for _, l := range a.Links {
			n += len(l)
		}
	}
	return n
}

// earliest is before anything that a works of this kind was ever asked.
var earliest = time.Date(1950, time.January, 1, 0, 0, 0, 0, time.UTC)

func (e Enquiry) checkDays(bad *collector, now time.Time) {
	asked := e.Asked.Format(time.RFC3339)
	switch {
	case e.Asked.After(now):
		bad.add("ask_time", asked, "now, "+now.Format(time.RFC3339)+", or earlier")
	case e.Asked.Before(earliest):
		bad.add("ask_time", asked, "a moment since "+vehicle.DateOf(earliest).String())
	case len(e.Answers) > 0 && e.Asked.After(e.Answers[0].At):
		bad.add("ask_time", asked, "no later than it was answered, "+e.Answers[0].At.Format(time.RFC3339))
	}
	day := vehicle.DateOf(e.Asked.In(now.Location()))
	switch {
	case e.FollowUp.IsZero():
	case e.Closed:
		bad.add("follow_up_date", e.FollowUp.String(), "none where the enquiry is done with")
	case e.FollowUp.Before(day):
		bad.add("follow_up_date", e.FollowUp.String(), "the day it was asked, "+day.String()+", or later")
	}
}

// Check says all that is wrong with an answer.
func (a Answer) Check() error { return fault.InvalidFields(a.faults(true)) }

func (a Answer) faults(needText bool) []fault.Field {
	var bad collector
	checkText(&bad, "text", a.Text, maxWords, needText)
	if len(a.Links) > maxLinks {
		bad.add("links", strconv.Itoa(len(a.Links))+" links", "at most "+strconv.Itoa(maxLinks))
	}
	for i, l := range a.Links {
		if !ValidLink(l) {
			bad.add(fmt.Sprintf("links[%d]", i), l, `the name of a record, as in "vehicles/AM0147P/serviceEntries/0192f0" or "answerNotes/drip-at-the-swivel"`)
		}
	}
	return bad
}

// checkText looks at words of somebody, which are never repeated.
func checkText(bad *collector, name, text string, most int, needed bool) {
	switch {
	case needed && strings.TrimSpace(text) == "":
		bad.add(name, "", "what was said, in words")
	case fault.Longer(text, most):
		bad.add(name, fault.NotRepeated+": "+fault.Length(text)+")", fault.AtMost(most))
	case strings.ContainsFunc(text, func(r rune) bool {
		return r == unicode.ReplacementChar || unicode.IsControl(r) && r != '\n' && r != '\t'
	}):
		bad.add(name, fault.NotRepeated+")", "words without control characters")
	}
}

// checkSymptom keeps out of a symptom what is easily told to be somebody's
// address or number. It is kept with the technical record and shown to all
// staff; that no name is in it only people can see to.
func checkSymptom(bad *collector, text string) {
	switch {
	case fault.Longer(text, maxSymptom):
		bad.add("symptom", fault.Length(text), fault.AtMost(maxSymptom))
	case strings.ContainsFunc(text, unicode.IsControl):
		bad.add("symptom", "control characters", "words on one line")
	case strings.Contains(text, "@"), strings.Contains(text, "+"), dialled(text):
		bad.add("symptom", fault.NotRepeated+")", "what is noticed on the vehicle, without names, addresses or numbers of anybody")
	}
}

// dialled reports whether eight digits stand together, as in a telephone number:
// with nothing but blanks, hyphens and brackets between.
func dialled(text string) bool {
	run := 0
	for _, r := range text {
		switch {
		case r >= '0' && r <= '9':
			if run++; run == 8 {
				return true
			}
		case !strings.ContainsRune(" -()/", r):
			run = 0
		}
	}
	return false
}

func checkPositions(bad *collector, name string, positions []string) {
	if len(positions) > maxPositions {
		bad.add(name, strconv.Itoa(len(positions))+" positions", "at most "+strconv.Itoa(maxPositions))
	}
	for i, p := range positions {
		if !isSlug(p, maxPosition) {
			bad.add(fmt.Sprintf("%s[%d]", name, i), p, `a position, as in "left-swivel-housing"`)
		}
	}
}

// isSlug reports whether a text is small letters and digits with single hyphens
// between, as positions and names of notes are.
func isSlug(text string, most int) bool {
	if text == "" || len(text) > most || text[0] == '-' || text[len(text)-1] == '-' || strings.Contains(text, "--") {
		return false
	}
	return !strings.ContainsFunc(text, func(r rune) bool { return r != '-' && (r < 'a' || r > 'z') && (r < '0' || r > '9') })
}

// linkHeads are the kinds of records that an answer may rest on.
var linkHeads = map[string]bool{
	"vehicles": true, "builds": true, "bulletins": true, "answerNotes": true, "parts": true,
	"programmes": true, "releases": true, "warrantyTerms": true, "organisations": true,
}

// ValidLink reports whether a text is the name of a record: no address of the
// web, and no words.
func ValidLink(text string) bool {
	segments := strings.Split(text, "/")
	if len(text) > maxLink || len(segments) < 2 || !linkHeads[segments[0]] {
		return false
	}
	for _, s := range segments {
		if s == "" || strings.ContainsFunc(s, func(r rune) bool {
			return r != '-' && r != '_' && r != '.' && (r < '0' || r > '9') && (r < 'a' || r > 'z') && (r < 'A' || r > 'Z')
		}) {
			return false
		}
	}
	return true
}
