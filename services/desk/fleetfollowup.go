package desk

import (
	"cmp"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"

	"halfshaft/services/wording"
)

// personSteps are the steps that people record.
var personSteps = []struct {
	kind  bulletinv1.FollowUpStepKind
	label string
}{
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_NOTIFIED, "The owner was told"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_BOOKED, "A day was agreed"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, "The remedy was carried out"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_NOT_NEEDED, "Looked at, and it needs none"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_PART_NOT_THERE, "The part is not on it"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_FOUND_WRONG, "The remedy was found wrong"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_REINSPECTED, "Looked at again, and it is right"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_REFUSED, "The owner does not want it"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_OWNER_UNKNOWN, "Nobody knows whose it is"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_EXPORTED, "It has left the country"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_SCRAPPED, "It is no more"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_REOPENED, "It is back, or its owner known again"},
}

func (v *visit) followUpName() string {
	return "vehicles/" + v.r.PathValue("serial") + "/followUps/" + v.r.PathValue("bulletin")
}

// followed is a vehicle of a campaign with what the campaign asks for.
type followed struct {
	*bulletinv1.FollowUp
	remedy []*bulletinv1.RemedyItem
}

func (v *visit) followed() (followed, error) {
	x, err := v.d.Bulletins.GetFollowUp(v.as(), &bulletinv1.GetFollowUpRequest{Name: v.followUpName()})
	if err != nil {
		return followed{}, err
	}
	b, err := v.d.Bulletins.GetBulletin(v.as(), &bulletinv1.GetBulletinRequest{Name: x.GetBulletin()})
	return followed{x, b.GetRemedy()}, err
}

// campaignForm asks what happened: for work, which work shows it, the lots that
// went in and the values that the remedy asks for.
func (v *visit) campaignForm(x followed) *form {
	var kinds []option
	for _, s := range personSteps {
		kinds = append(kinds, option{Value: s.kind.String(), Label: s.label})
	}
	f := &form{ID: "step", Action: v.r.URL.Path, Submit: "Record the step", Fields: []field{
		{Name: "etag", Type: "hidden", Value: x.GetEtag()},
		{Name: "step.kind", Label: "What happened", Options: kinds},
		{Name: "step.step_date", Label: "On", Type: "date", Value: v.today().String(), Hint: "For a booking, the day agreed."},
		{Name: "step.text", Label: "In words, without names", Lines: 2, Hint: "Needed where it needs none, the part is not there, it was found wrong, or the owner does not want it."},
		{Name: "step.evidence", Label: "The work that shows it", Options: v.workOptions(), Legend: "Where work was done"},
	}}
	f.Fields = append(f.Fields, remedyAsks(x.remedy)...)
	f.Fields = append(f.Fields, requestField())
	return f
}

// remedyAsks ask for the lot of each part of a remedy and for what it measures.
func remedyAsks(remedy []*bulletinv1.RemedyItem) (out []field) {
	for i, item := range remedy {
		for k, p := range item.GetParts() {
			out = append(out, field{Name: lotField(i, k), Label: item.GetItemId() + ": lot of " + strings.TrimSpace(p.GetPart()+" "+place(p.GetPosition())), Type: "text", Autocomplete: "off",
				Hint: strconv.Itoa(int(p.GetQuantity())) + " went in. As it is marked, or none where it bears none."})
		}
		for k, m := range item.GetMeasured() {
			out = append(out, field{Name: valueField(i, k), Label: item.GetItemId() + ": " + place(m.GetCharacteristic()), Type: "text", Inputmode: "decimal", Autocomplete: "off",
				Hint: "In " + m.GetUnit() + yes(windowText(m) != "", ", wanted "+windowText(m)) + "."})
		}
	}
	return out
}

func lotField(item, part int) string    { return fmt.Sprintf("lot.%d.%d", item, part) }
func valueField(item, value int) string { return fmt.Sprintf("value.%d.%d", item, value) }

func (v *visit) showFollowUp() {
	x, err := v.followed()
	if err != nil {
		v.refuse(err)
		return
	}
	v.followUpPage(http.StatusOK, x, v.campaignForm(x))
}

func (v *visit) followUpPage(status int, x followed, f *form) {
	t := &table{Caption: "Steps", Heads: []string{"Day", "What"}, Empty: "Nothing has happened yet."}
	for _, s := range x.GetSteps() {
		t.Rows = append(t.Rows, []cell{{Text: civil(s.GetStepDate()), Tight: true}, {Text: wording.UpperFirst(word(s.GetKind(), "FOLLOW_UP_STEP_KIND_")), Sub: stepSub(s)}})
	}
	serial := v.r.PathValue("serial")
	blocks := []block{{Text: []string{x.GetSentence()}, Links: []link{
		{Label: "Back to the campaign", Path: "/fleet/campaigns/" + url.PathEscape(v.r.PathValue("bulletin"))}, {Label: "Open " + serial, Path: vehiclePath(serial)}}}}
	if len(x.remedy) > 0 {
		blocks = append(blocks, remedyBlock(x.remedy))
	}
	v.fleetPage(status, serial+": "+x.GetTitle(), append(blocks,
		block{Heading: "Record a step", Text: []string{"Work that is not on record yet is recorded first, on the page of the vehicle."}, Form: f,
			Links: []link{{Label: "Record work on " + serial, Path: vehiclePath(serial) + "/service"}}},
		block{Heading: "What happened so far", Table: t})...)
}

// stepSub says what a step has besides its kind.
func stepSub(s *bulletinv1.FollowUpStep) string {
	var out []string
	for _, p := range s.GetParts() {
		out = append(out, strconv.Itoa(max(1, int(p.GetQuantity())))+" of "+p.GetPart()+yes(p.GetLot() != "", ", lot "+p.GetLot()))
	}
	for _, m := range s.GetMeasured() {
		out = append(out, place(m.GetCharacteristic())+" "+quantity(m.GetValue()))
	}
	if s.GetText() != "" {
		out = append(out, s.GetText())
	}
	return strings.Join(out, "; ")
}

// campaignStep reads a step.
func (t *typed) campaignStep(x followed) *bulletinv1.FollowUpStep {
	s := &bulletinv1.FollowUpStep{
		Kind:     bulletinv1.FollowUpStepKind(bulletinv1.FollowUpStepKind_value[t.value("step.kind")]),
		StepDate: t.date("step.step_date"), Text: t.value("step.text"),
	}
	if id := t.value("step.evidence"); id != "" {
		s.Evidence = t.vehicle() + "/serviceEntries/" + bare(id)
	}
	t.carriedOut(s, x.remedy)
	return s
}

// carriedOut reads the lots and values of a remedy into a step.
func (t *typed) carriedOut(s *bulletinv1.FollowUpStep, remedy []*bulletinv1.RemedyItem) {
	for i, item := range remedy {
		for k, p := range item.GetParts() {
			if lot := t.value(lotField(i, k)); lot != "" {
				s.Parts = append(s.Parts, &bulletinv1.PartFitted{Part: p.GetPart(), Lot: lot, Position: p.GetPosition(), Quantity: p.GetQuantity()})
			}
		}
		for k, m := range item.GetMeasured() {
			if q := t.quantity(valueField(i, k), m.GetUnit()); q != nil {
				s.Measured = append(s.Measured, &bulletinv1.RemedyValue{ItemId: item.GetItemId(), Characteristic: m.GetCharacteristic(), Value: q})
			}
		}
	}
}

// ofStep finds the list that a refusal of a step is about.
var ofStep = regexp.MustCompile(`^step\.(service_entry|parts|measured)`)

// stepField says which field of the form a refusal of a step is about: of lots and
// values the first that is empty.
func (v *visit) stepField(remedy []*bulletinv1.RemedyItem) func(string) string {
	first := func(of func(*bulletinv1.RemedyItem) int, name func(i, k int) string) string {
		any := ""
		for i, item := range remedy {
			for k := range of(item) {
				any = cmp.Or(any, name(i, k))
				if v.value(name(i, k)) == "" {
					return name(i, k)
				}
			}
		}
		return any
	}
	return func(name string) string {
		switch m := ofStep.FindStringSubmatch(name); {
		case m == nil:
			return name
		case m[1] == "parts":
			return cmp.Or(first(func(i *bulletinv1.RemedyItem) int { return len(i.GetParts()) }, lotField), name)
		case m[1] == "measured":
			return cmp.Or(first(func(i *bulletinv1.RemedyItem) int { return len(i.GetMeasured()) }, valueField), name)
		}
		return "step.evidence"
	}
}

func (v *visit) recordFollowUp() {
	if !v.readForm() {
		return
	}
	x, err := v.followed()
	if err != nil {
		v.refuse(err)
		return
	}
	entries := &typed{visit: v}
	step := entries.campaignStep(x)
	if err = entries.err(); err == nil {
		_, err = v.d.Bulletins.RecordFollowUpStep(v.as(), &bulletinv1.RecordFollowUpStepRequest{Name: v.followUpName(), Step: step, Etag: v.value("etag"), RequestId: v.request()})
	}
	if err != nil {
		f := v.campaignForm(x).filled(v)
		v.againPointed(err, f, v.stepField(x.remedy), func(status int) { v.followUpPage(status, x, f) })
		return
	}
	v.goTo("/fleet/campaigns/" + url.PathEscape(v.r.PathValue("bulletin")) + "?done=step")
}
