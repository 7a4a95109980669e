package owner

import (
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Erasure is the record that everything held about a person was made
// unreadable. It says nothing of the person.
type Erasure struct {
	Person     string // identifier, which is never used again
	At         time.Time
	Ground     string
	RecordedBy string
	Destroyed  string // identifier of the master key that was destroyed
	New        string // of the one that took its place
}

const maxGround = 200 // characters

// CheckGround refuses a ground that says nothing or does not fit a line.
func CheckGround(text string) []fault.Field {
	if text == "" || !oneLine(text, maxGround) {
		return []fault.Field{{Name: "ground", Got: Described(text),
			Want: "on what ground, without names, 1 to " + fault.Characters(maxGround) + " on one line"}}
	}
	return nil
}

// Faults says what is wrong with an erasure that comes from elsewhere.
func (e Erasure) Faults() []fault.Field {
	out := CheckGround(e.Ground)
	if !ValidID(e.Person) {
		out = append(out, fault.Field{Name: "name", Got: Described(e.Person), Want: "erasures/{person}"})
	}
	if e.At.IsZero() {
		out = append(out, fault.Field{Name: "create_time", Want: "when the person was erased"})
	}
	for _, f := range []struct{ name, text string }{
		{"recorded_by", e.RecordedBy}, {"destroyed_master_key", e.Destroyed}, {"new_master_key", e.New},
	} {
		if !oneLine(f.text, maxGround) {
			out = append(out, fault.Field{Name: f.name, Got: Described(f.text), Want: fault.AtMost(maxGround) + " on one line"})
		}
	}
	return out
}

// Document says what a file is that is kept sealed under a person's key.
type Document struct {
	Person    string
	ID        string // a digest of the content keyed by the person's key, in hex
	MediaType string
	Vehicle   vehicle.Serial // empty for none
	Title     string
	Created   time.Time
	Size      int64 // bytes
}

const maxTitle = 100 // characters

// Faults says what is wrong with what somebody said of a document.
func (d Document) Faults() []fault.Field {
	if !oneLine(d.Title, maxTitle) {
		return []fault.Field{{Name: "title", Got: Described(d.Title), Want: fault.AtMost(maxTitle) + " on one line"}}
	}
	return nil
}
