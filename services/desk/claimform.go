package desk

import (
	"slices"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/wording"
)

// claimChoices are what the form of a claim offers to choose from: what stands on
// the vehicle, the last work on it, and who may have done it.
type claimChoices struct {
	places, work, dealers []option
	unit                  string // of the vehicle's dial
}

// claimChoices asks for them. What the claim says already is among them, though
// the vehicle has it no longer.
func (v *visit) claimChoices(c *warrantyv1.Claim) (*claimChoices, error) {
	x := &claimChoices{}
	on, err := v.d.Builds.GetConfiguration(v.as(), &buildv1.GetConfigurationRequest{Name: "builds/" + v.r.PathValue("serial")})
	if err != nil {
		return nil, err
	}
	x.unit = on.GetDial().GetUnit()
	for _, f := range on.GetFitted() {
		x.places = append(x.places, option{Value: f.GetComponent().GetPosition(), Label: fittedWords(f.GetComponent())})
	}
	if len(x.places) > 0 {
		x.places = append([]option{{Label: toChoose}}, offered(x.places, c.GetPosition(), wording.UpperFirst(place(c.GetPosition())))...)
	}
	const most = 20
	done, err := v.d.Schedules.ListServiceEntries(v.as(), &schedulev1.ListServiceEntriesRequest{Parent: v.vehicle(), LatestFirst: true, PageSize: most})
	if err != nil {
		return nil, err
	}
	for _, e := range done.GetServiceEntries() {
		if e.GetVoidReason() == "" {
			x.work = append(x.work, option{Value: e.GetName(), Label: workWords(e)})
		}
	}
	x.work = append([]option{{Label: "not on record, or not done yet"}}, offered(x.work, c.GetServiceEntry(), "as the claim says already")...)
	if !v.staff() {
		return x, nil // a dealer claims for themselves
	}
	all, err := v.organisations()
	if err != nil {
		return nil, err
	}
	x.dealers = append([]option{{Label: "the works"}}, offered(organisationOptions(all, c.GetOrganisation()), c.GetOrganisation(), bare(c.GetOrganisation()))...)
	return x, nil
}

// offered chooses what is on record in a list, and puts it there where it is
// missing.
func offered(all []option, now, label string) []option {
	if now == "" {
		return all
	}
	i := slices.IndexFunc(all, func(o option) bool { return o.Value == now })
	if i < 0 {
		all, i = append(all, option{Value: now, Label: label}), len(all)
	}
	all[i].Chosen = true
	return all
}

// fittedWords are a position with what stands there: "Transfer case, AP-1200 TC-0147".
func fittedWords(c *buildv1.Component) string {
	return strings.TrimSpace(strings.Join([]string{wording.UpperFirst(place(c.GetPosition())) + ", " + c.GetPart(), c.GetSerial()}, " "))
}

func workWords(e *schedulev1.ServiceEntry) string {
	var items []string
	for _, i := range e.GetItems() {
		items = append(items, i.GetItemId())
	}
	const named = 4
	return strings.TrimSuffix(civil(e.GetServiceDate())+": "+someOf(items, named), ": ")
}

// form asks what a claim says, beginning with what it says already.
func (x *claimChoices) form(c *warrantyv1.Claim, action, submit string) *form {
	failed := field{Name: "claim.position", Label: "What failed", Type: "text", Value: place(c.GetPosition()), Autocomplete: "off", Required: true, Hint: "Its place on the vehicle, as in transfer case."}
	other := field{Name: "other-position", Type: "hidden"}
	if len(x.places) > 0 {
		failed = field{Name: "claim.position", Label: "What failed", Options: x.places}
		other = field{Name: "other-position", Label: "Or another place", Type: "text", Autocomplete: "off", Hint: "Only where the list has none for it, as in hood."}
	}
	f := &form{ID: "claim", Action: action, Submit: submit, Fields: []field{
		failed, other,
		{Name: "claim.failure_date", Label: "Failed, or was found, on", Type: "date", Value: iso(c.GetFailureDate())},
		{Name: "claim.reading", Label: "What the odometer showed then", Type: "text", Inputmode: "decimal", Value: typedAs(c.GetReading()), Autocomplete: "off", Hint: "In the unit of its dial; another is said behind it, as in 66350 km."},
		{Name: "claim.symptom", Label: "What was noticed, without names", Lines: 2, Value: c.GetSymptom(), Hint: "The complaint, as in knock on overrun."},
		{Name: "claim.cause", Label: "Cause", Lines: 2, Value: c.GetCause()},
		{Name: "claim.remedy", Label: "What was done, or is to be done", Lines: 2, Value: c.GetRemedy()},
		{Name: "claim.service_entry", Label: "Work on record", Options: x.work},
	}}
	if len(x.dealers) > 0 {
		f.Fields = append(f.Fields, field{Name: "claim.organisation", Label: "Who does or did the work", Options: x.dealers})
	}
	f.Fields = append(f.Fields,
		field{Name: "claim.parts", Label: "Parts", Lines: 3, Value: partLines(c.GetParts()), Legend: "What is asked for", Hint: "One a line, with the price of one: 2 AP-2041 at 24.50. The one that failed comes first; where lots are known, they stand behind it: failed lot L-77 fitted lot L-80."},
		field{Name: "claim.labour", Label: "Labour", Lines: 3, Value: labourLines(c.GetLabour()), Hint: "One a line, with how long and the rate of an hour: gearbox out and in, 300 minutes at 60.00; or 2.5 hours."},
		field{Name: "claim.other_costs", Label: "Other costs", Lines: 2, Value: costLines(c.GetOtherCosts()), Hint: "One a line: carriage at 12.00."},
		field{Name: "claim.currency", Label: "Currency of the amounts", Type: "text", Value: c.GetCurrency(), Autocomplete: "off", Hint: "Its code, as in GBP."},
		field{Name: "claim.exclusions", Label: "Exclusions that the examination found", Type: "text", Value: strings.Join(c.GetExclusions(), ", "), Autocomplete: "off", Hint: "Their short names in the terms, as in wear; nothing where none was found."})
	if c.GetEtag() != "" {
		f.Fields = append(f.Fields, field{Name: "claim.etag", Type: "hidden", Value: c.GetEtag()})
	}
	f.Fields = append(f.Fields, requestField())
	return f
}
