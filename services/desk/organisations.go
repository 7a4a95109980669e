package desk

import (
	"net/http"
	"strings"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
)

func organisationForm() *form {
	return &form{ID: "organisation", Action: "/organisations", Submit: "Make the organisation", Fields: []field{
		{Name: "organisation.name", Label: "Short name", Type: "text", Autocomplete: "off", Required: true, Hint: "Small letters, figures and hyphens, as in ferncombe. It stays."},
		{Name: "organisation.title", Label: "Full name", Type: "text", Autocomplete: "off", Required: true},
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
	t := &table{Caption: "Organisations", Heads: []string{"Name", "Since", "State", ""}, Empty: "There is no organisation yet."}
	for _, o := range list.GetOrganisations() {
		state, act := "open", &form{ID: bare(o.GetName()), Action: "/" + o.GetName(), Submit: "Close", Grave: true, Fields: []field{
			{Name: "title", Type: "hidden", Value: o.GetTitle()}, {Name: "etag", Type: "hidden", Value: o.GetEtag()},
			{Name: "closed", Type: "hidden", Value: "yes"}, requestField(),
		}}
		if o.GetCloseTime() != nil {
			state, act.Submit, act.Grave, act.Fields[2].Value = "closed", "Open again", false, ""
		}
		t.Rows = append(t.Rows, []cell{
			{Text: o.GetTitle(), Sub: bare(o.GetName())}, {Text: day(o.GetCreateTime())}, {Text: state}, {Form: act},
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
		Name: "organisations/" + strings.ToLower(v.value("organisation.name")), Title: v.value("organisation.title"),
	}})
	if err != nil {
		f := organisationForm().filled(v)
		v.again(err, f, func(status int) { v.organisationsPage(status, f) })
		return
	}
	v.goTo("/organisations?done=made")
}

func (v *visit) updateOrganisation() {
	if !v.readForm() {
		return
	}
	closed, word := v.value("closed") != "", "opened"
	if closed {
		word = "closed"
	}
	_, err := v.d.Access.UpdateOrganisation(v.as(), &accessv1.UpdateOrganisationRequest{
		RequestId: v.request(), Closed: closed, Organisation: &accessv1.Organisation{
			Name: "organisations/" + v.r.PathValue("organisation"), Title: v.value("title"), Etag: v.value("etag"),
		},
	})
	v.done(err, "/organisations?done="+word)
}
