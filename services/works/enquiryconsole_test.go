package works_test

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"halfshaft/services/console"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/vehicle"
	"halfshaft/services/works"
)

// What staff type about enquiries and notes: slips are named all at once, with
// the field, and what was done can be undone.
func TestStaffKeepEnquiriesAndNotesByCommands(t *testing.T) {
	racetest.Skip(t, "one command after the other")
	_, ctx, clients := start(t, works.Config{})
	importFiles(t, ctx, clients, demoFiles(t))
	if err := works.LoadEnquiries(ctx, clients.Enquiries); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	k := &console.Console{Access: clients.Access, Builds: clients.Builds, Owners: clients.Owners, Enquiries: clients.Enquiries, Out: &out}
	said := func(err error) string {
		t.Helper()
		text := strings.Join(strings.Fields(out.String()), " ")
		out.Reset()
		if err != nil {
			return "refused: " + works.Explain(err)
		}
		return text
	}
	wants := func(what, got string, pieces ...string) {
		t.Helper()
		for _, p := range pieces {
			if !strings.Contains(got, p) {
				t.Errorf("%s: want %q in\n%s", what, p, got)
			}
		}
	}
	new := console.Enquiry{Channel: "phone", Asker: "ownr", Question: "Is this normal?", Links: []string{"drip-at-the-swivel"}}
	wants("slips", said(k.AddEnquiry(ctx, "AM0101G", new)), "refused", `by: got "phone", want telephone`, `asker: got "ownr", want owner`, `link: got "drip-at-the-swivel", want none without --answer`)
	new.Channel, new.Asker, new.Links, new.FollowUp = "telephone", "owner", nil, vehicle.MustDate(2026, 6, 1)
	added := said(k.AddEnquiry(ctx, "alpha mike zero one zero one golf", new))
	wants("added", added, "open, to come back to by 1 June 2026", "asked: Is this normal?")
	name := regexp.MustCompile(`vehicles/AM0101G/enquiries/[0-9a-f]+`).FindString(added)

	wants("no change", said(k.ChangeEnquiry(ctx, name, console.EnquiryChange{})), "refused", "change: got nothing, want something to change")
	wants("both", said(k.ChangeEnquiry(ctx, name, console.EnquiryChange{Close: true, Reopen: true})), "refused", "want one of them")
	wants("closed", said(k.ChangeEnquiry(ctx, name, console.EnquiryChange{Close: true})), "closed")
	wants("answered when closed", said(k.AnswerEnquiry(ctx, name, "A film is.", nil, false, vehicle.Date{})), "refused", "open it again by a change")
	symptom := "weep at the seal"
	wants("open again", said(k.ChangeEnquiry(ctx, name, console.EnquiryChange{Reopen: true, Symptom: &symptom, Positions: []string{"Left swivel housing"}})), "; open", "about: weep at the seal, left swivel housing")
	wants("another vehicle's record", said(k.AnswerEnquiry(ctx, name, "So.", []string{"vehicles/AM0103C"}, false, vehicle.Date{})), "refused", "want a record of the vehicle that was asked about, vehicles/AM0101G")
	wants("answered", said(k.AnswerEnquiry(ctx, name, "A film is.", []string{"drip-at-the-swivel"}, true, vehicle.Date{})), "closed", "answer: A film is. (answerNotes/drip-at-the-swivel)")
	wants("elsewhere", said(k.SuggestAnswers(ctx, "AM0104A", "weep at the seal", []string{"left swivel housing"})), "alike: Same position, the words weep and seal", "rests on answerNotes/drip-at-the-swivel")

	text := "A film of oil is normal."
	wants("no change of a note", said(k.ChangeNote(ctx, "drip-at-the-swivel", console.NoteChange{})), "refused", "change: got nothing")
	wants("a note that is not there", said(k.ChangeNote(ctx, "drop", console.NoteChange{Text: &text})), "refused: There is no note drop here.")
	wants("changed", said(k.ChangeNote(ctx, "drip-at-the-swivel", console.NoteChange{Text: &text})), text, "CAUTION Oil on a brake lining", "NOT REVIEWED")
	wants("reviewed", said(k.ReviewNote(ctx, "drip-at-the-swivel")), "reviewed by")
	retired, restored := true, false
	wants("retired", said(k.ChangeNote(ctx, "drip-at-the-swivel", console.NoteChange{Retired: &retired})), "no longer in use")
	if got := said(k.SuggestAnswers(ctx, "AM0101G", "a drip at the swivel", nil)); strings.Contains(got, text) {
		t.Errorf("a note out of use is given out: %s", got)
	}
	wants("restored", said(k.ChangeNote(ctx, "drip-at-the-swivel", console.NoteChange{Retired: &restored})), "reviewed by")
	wants("given out", said(k.SuggestAnswers(ctx, "AM0101G", "a drip at the swivel", nil)), text)
}
