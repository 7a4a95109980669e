package services_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"halfshaft/services/access"
	"halfshaft/services/build"
	"halfshaft/services/bulletin"
	"halfshaft/services/enquiry"
	"halfshaft/services/fault"
	"halfshaft/services/handbook"
	"halfshaft/services/owner"
	"halfshaft/services/parts"
	"halfshaft/services/reminder"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
	"halfshaft/services/warranty"
)

// written is a text that people write, and what a service says of it.
type written struct {
	field string
	most  int
	check func(text string) []fault.Field
}

// texts are some of each service, with the limits that their readers are told.
func texts() []written {
	now := time.Date(2026, 5, 18, 12, 0, 0, 0, time.UTC)
	today := vehicle.DateOf(now)
	return []written{
		{"title", 120, func(s string) []fault.Field { return second(access.Proposed(access.Key{Title: s}, now)) }},
		{"full_name", 120, func(s string) []fault.Field { return second(access.ProposedAccount(access.Account{FullName: s})) }},
		{"title", 120, func(s string) []fault.Field {
			return second(access.ProposedOrganisation(access.Organisation{Title: s}))
		}},
		{"work", 300, func(s string) []fault.Field { return second(access.ProposedContact(access.Contact{Work: s})) }},
		{"purpose", 300, func(s string) []fault.Field {
			return second(access.ProposedAssignment(access.Assignment{Purpose: s}, today))
		}},
		{"full_name", 200, func(s string) []fault.Field { return owner.Person{FullName: s}.Faults() }},
		{"postal_lines[0]", 120, func(s string) []fault.Field { return owner.Person{PostalLines: []string{s}}.Faults() }},
		{"note", 500, func(s string) []fault.Field { return owner.Standing{Note: s}.Faults(today) }},
		{"wording", 4_000, func(s string) []fault.Field { return owner.Consent{Wording: s}.Faults(now) }},
		{"evidence", 500, owner.CheckEvidence},
		{"ground", 200, owner.CheckGround},
		{"title", 100, func(s string) []fault.Field { return owner.Document{Title: s}.Faults() }},
		{"question", 4_000, func(s string) []fault.Field {
			return fault.FieldsOf("", enquiry.Enquiry{Question: s, Asked: now}.Check(now))
		}},
		{"symptom", 200, func(s string) []fault.Field {
			return fault.FieldsOf("", enquiry.Enquiry{Symptom: s, Asked: now}.Check(now))
		}},
		{"text", 4_000, func(s string) []fault.Field { return fault.FieldsOf("", enquiry.Answer{Text: s}.Check()) }},
		{"title", 120, func(s string) []fault.Field { return fault.FieldsOf("", enquiry.Note{Title: s}.Check()) }},
		{"text", 6_000, func(s string) []fault.Field { return fault.FieldsOf("", enquiry.Note{Text: s}.Check()) }},
		{"keywords[0]", 60, func(s string) []fault.Field {
			return fault.FieldsOf("", enquiry.Note{Keywords: []string{s}}.Check())
		}},
		{"title", 200, func(s string) []fault.Field { return (&warranty.Term{Title: s}).Faults() }},
		{"conditions[0]", 2_000, func(s string) []fault.Field { return (&warranty.Term{Conditions: []string{s}}).Faults() }},
		{"symptom", 2_000, func(s string) []fault.Field { return (&warranty.Claim{Symptom: s}).Faults(today) }},
		{"title", 2_000, func(s string) []fault.Field { return (&schedule.Programme{Title: s}).Validate() }},
		{"title", 120, func(s string) []fault.Field { return fault.FieldsOf("", (&handbook.Book{Title: s}).Check(nil)) }},
		{"chapters[0].sections[0].passages[0].text", 4_000, func(s string) []fault.Field {
			return fault.FieldsOf("", (&handbook.Book{Chapters: []handbook.Chapter{{Sections: []handbook.Section{{Passages: []handbook.Passage{{Text: s}}}}}}}).Check(nil))
		}},
		{"title", 200, func(s string) []fault.Field { return fault.FieldsOf("", (&bulletin.Bulletin{Title: s}).Check(nil)) }},
		{"fault", 4_000, func(s string) []fault.Field { return fault.FieldsOf("", (&bulletin.Bulletin{Fault: s}).Check(nil)) }},
		{"workshop", 200, func(s string) []fault.Field {
			return fault.FieldsOf("", reminder.Answer{Workshop: s}.Check(reminder.Vehicle{}, today))
		}},
		{"note", 500, func(s string) []fault.Field {
			return fault.FieldsOf("", reminder.Answer{Note: s}.Check(reminder.Vehicle{}, today))
		}},
		{"title", 200, func(s string) []fault.Field { return build.CheckRelease(&build.Release{Title: s}) }},
		{"title", 200, func(s string) []fault.Field { return (&parts.Part{Title: s}).Validate() }},
		{"words[0]", 200, func(s string) []fault.Field { return (&parts.Part{Words: []string{s}}).Validate() }},
		{"notes", 4_000, func(s string) []fault.Field { return (&parts.Part{Notes: s}).Validate() }},
	}
}

func second[A any](_ A, wrong []fault.Field) []fault.Field { return wrong }

// A person counts characters, whatever they take in bytes.
func TestWhatPeopleWriteIsLimitedInCharacters(t *testing.T) {
	for _, w := range texts() {
		for _, sign := range []string{"u", "ü", "軸", "🚙"} {
			if wrong := about(w.field, w.check(strings.Repeat(sign, w.most))); wrong != nil {
				t.Errorf("%s of %d %q is refused: %s", w.field, w.most, sign, wrong.Want)
			}
			wrong := about(w.field, w.check(strings.Repeat(sign, w.most+1)))
			if wrong == nil {
				t.Errorf("%s of %d %q is taken", w.field, w.most+1, sign)
				continue
			}
			if limit := fault.Characters(w.most); !strings.Contains(strings.Replace(wrong.Want, " printable", "", 1), limit) || strings.Contains(wrong.String(), "bytes") {
				t.Errorf("%s is refused by %q, without %q", w.field, wrong, limit)
			}
		}
	}
}

// about gives the fault of a field; nil for none.
func about(field string, all []fault.Field) *fault.Field {
	at := slices.IndexFunc(all, func(f fault.Field) bool { return f.Name == field })
	if at < 0 {
		return nil
	}
	return &all[at]
}
