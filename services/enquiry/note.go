package enquiry

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"halfshaft/services/fault"
)

// Note is an answer to what is asked often. Staff read it out once an engineer
// has reviewed it.
type Note struct {
	ID         string // "drip-at-the-swivel"
	Title      string // the question, in a line
	Text       string
	Caution    string   // what can hurt; "" for nothing
	Releases   []string // none: all
	Positions  []string // none: the whole vehicle
	Keywords   []string
	ReviewedBy string // "" while nobody has
	Reviewed   time.Time
	Sample     bool
	Retired    bool
	Created    time.Time
}

// Bounds of a note, of texts in characters.
const (
	maxNoteID    = 60
	maxTitle     = 120
	maxNoteText  = 6000
	maxCaution   = 1000
	maxReleases  = 40
	maxKeywords  = 40
	maxKeyword   = 60
	maxReleaseID = 20
)

// ValidNoteID reports whether a text can name a note.
func ValidNoteID(id string) bool { return isSlug(id, maxNoteID) }

// Check says all that is wrong with a note.
func (n Note) Check() error {
	var bad collector
	if !ValidNoteID(n.ID) {
		bad.add("name", n.ID, `"answerNotes/" and small letters, digits and hyphens, as in "answerNotes/drip-at-the-swivel"`)
	}
	if t := strings.TrimSpace(n.Title); t == "" || fault.Longer(n.Title, maxTitle) || strings.Contains(n.Title, "\n") {
		bad.add("title", n.Title, "the question in a line of up to "+fault.Characters(maxTitle))
	}
	checkText(&bad, "text", n.Text, maxNoteText, true)
	checkText(&bad, "caution", n.Caution, maxCaution, false)
	if len(n.Releases) > maxReleases {
		bad.add("releases", strconv.Itoa(len(n.Releases))+" releases", "at most "+strconv.Itoa(maxReleases))
	}
	for i, r := range n.Releases {
		if !isSlug(strings.ToLower(r), maxReleaseID) {
			bad.add(fmt.Sprintf("releases[%d]", i), r, `a release, as in "R3"`)
		}
	}
	checkPositions(&bad, "positions", n.Positions)
	if len(n.Keywords) > maxKeywords {
		bad.add("keywords", strconv.Itoa(len(n.Keywords))+" words", "at most "+strconv.Itoa(maxKeywords))
	}
	for i, k := range n.Keywords {
		if strings.TrimSpace(k) == "" || fault.Longer(k, maxKeyword) || strings.Contains(k, "\n") {
			bad.add(fmt.Sprintf("keywords[%d]", i), k, "a word or two, in up to "+fault.Characters(maxKeyword))
		}
	}
	return fault.InvalidFields(bad)
}

// For reports whether staff may read the note out for a vehicle of a release:
// it is reviewed, in use, and for all releases or for that one.
func (n Note) For(release string) bool {
	return n.ReviewedBy != "" && !n.Retired && (len(n.Releases) == 0 || slices.Contains(n.Releases, release))
}

// SameWords reports whether two notes tell the same, whoever reviewed them.
func (n Note) SameWords(o Note) bool {
	return n.Title == o.Title && n.Text == o.Text && n.Caution == o.Caution && n.Sample == o.Sample &&
		slices.Equal(n.Releases, o.Releases) && slices.Equal(n.Positions, o.Positions) && slices.Equal(n.Keywords, o.Keywords)
}

// Changed gives the note as a change says it is to be. Its review is taken away
// unless only its retirement changes: what was reviewed is what is read out.
func (n Note) Changed(to Note) Note {
	to.ID, to.Created = n.ID, n.Created
	to.ReviewedBy, to.Reviewed = "", time.Time{}
	if n.SameWords(to) {
		to.ReviewedBy, to.Reviewed = n.ReviewedBy, n.Reviewed
	}
	return to
}

// ReviewedNow gives the note as reviewed by somebody at a moment.
func (n Note) ReviewedNow(by string, at time.Time) (Note, error) {
	if n.Retired {
		return n, fault.New(fault.FailedPrecondition, "NOTE_RETIRED", "The note %s is no longer in use: nobody reads it out.", n.ID)
	}
	n.ReviewedBy, n.Reviewed = by, at
	return n, nil
}
