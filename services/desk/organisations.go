package desk

import (
	"net/http"
	"strings"

	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
)

func organisationForm() *form {
	return &form{ID: "organisation", Action: "/organisations", Submit: "Make the organisation", Fields: []field{
		{Name: "organisation.name", Label: "Short name", Type: "text", Autocomplete: "off", Required: true, Hint: "Small letters, figures and hyphens, as in ferncombe. It stays."},
		{Name: "organisation.title", Label: "Full name", Type: "text", Autocomplete: "off", Required: true},
		{Name: "organisation.contact.address_lines", Label: "Street", Type: "text", Autocomplete: "off", Hint: "How it is reached, as it publishes that itself. Owners and dealers are told of it."},
		{Name: "organisation.contact.town", Label: "Town", Type: "text", Autocomplete: "off"},
		{Name: "organisation.contact.country_code", Label: "Country", Type: "text", Autocomplete: "off", Hint: "Two letters by ISO 3166-1, as in GB."},
		{Name: "organisation.contact.phone", Label: "Telephone", Type: "tel", Autocomplete: "off", Hint: "With the country code and digits only, as in +441632960181."},
		{Name: "organisation.contact.email", Label: "Mail address", Type: "email", Autocomplete: "off"},
		{Name: "organisation.contact.work", Label: "What it does", Type: "text", Autocomplete: "off"},
		requestField(),
	}}
}

func (v *visit) showOrganisations() { v.organisationsPage(http.StatusOK, organisationForm()) }

func (v *visit) organisationsPage(status int, f *form) {
	list, err := v.d.Access.ListOrganisations(v.as(), &accessv1.ListOrganisationsRequest{PageSize: 100, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Organisations", Heads: []string{"Name", "Where", "Since", "State", ""}, Empty: "There is no organisation yet."}
	for _, o := range list.GetOrganisations() {
		state, act := "open", &form{ID: bare(o.GetName()), Action: "/" + o.GetName(), Submit: "Close", Grave: true, Fields: []field{
			{Name: "title", Type: "hidden", Value: o.GetTitle()}, {Name: "etag", Type: "hidden", Value: o.GetEtag()},
			{Name: "closed", Type: "hidden", Value: "yes"}, requestField(),
		}}
		if o.GetCloseTime() != nil {
			state, act.Submit, act.Grave, act.Fields[2].Value = "closed", "Open again", false, ""
		}
		t.Rows = append(t.Rows, []cell{
			{Text: o.GetTitle(), Sub: bare(o.GetName())}, {Text: o.GetContact().GetTown(), Sub: dialled(o.GetContact().GetPhone()).Label}, {Text: day(o.GetCreateTime()), Tight: true}, {Text: state}, {Form: act},
		})
	}
	v.render(status, view{Title: "Organisations", Note: notes[v.r.URL.Query().Get("done")], Blocks: []block{
		{Text: []string{"Dealers and independent workshops. Their people see the vehicles that are assigned to them, and no owner's address."},
			Table: t, Links: more("/organisations?page=", list.GetNextPageToken())},
		{Heading: "Make an organisation", Form: f},
	}})
}

func (v *visit) createOrganisation() {
	if !v.readForm() {
		return
	}
	_, err := v.d.Access.CreateOrganisation(v.as(), &accessv1.CreateOrganisationRequest{RequestId: v.request(), Organisation: &accessv1.Organisation{
		Name: "organisations/" + strings.ToLower(v.value("organisation.name")), Title: v.value("organisation.title"), Contact: v.contact(),
	}})
	if err != nil {
		f := organisationForm().filled(v)
		v.again(err, f, func(status int) { v.organisationsPage(status, f) })
		return
	}
	v.goTo("/organisations?done=made")
}

// contact reads how an organisation is reached; nil where nothing was filled in.
func (v *visit) contact() *accessv1.OrganisationContact {
	of := func(name string) string { return strings.TrimSpace(v.value("organisation.contact." + name)) }
	c := &accessv1.OrganisationContact{
		Town: of("town"), CountryCode: strings.ToUpper(of("country_code")), Phone: of("phone"), Email: of("email"), Work: of("work"),
	}
	if street := of("address_lines"); street != "" {
		c.AddressLines = []string{street}
	}
	if proto.Size(c) == 0 {
		return nil
	}
	return c
}

func (v *visit) updateOrganisation() {
	if !v.readForm() {
		return
	}
	closed, word := v.value("closed") != "", "opened"
	if closed {
		word = "closed"
	}
	// How it is reached stays as it is: the form does not carry it, and a change
	// that leaves it out would take it away. The etag is that of the form.
	o, err := v.d.Access.GetOrganisation(v.as(), &accessv1.GetOrganisationRequest{Name: "organisations/" + v.r.PathValue("organisation")})
	if err == nil {
		_, err = v.d.Access.UpdateOrganisation(v.as(), &accessv1.UpdateOrganisationRequest{
			RequestId: v.request(), Closed: closed, Organisation: &accessv1.Organisation{
				Name: o.GetName(), Title: v.value("title"), Etag: v.value("etag"), Contact: o.GetContact(),
			},
		})
	}
	v.done(err, "/organisations?done="+word)
}
