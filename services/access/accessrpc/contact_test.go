package accessrpc_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/type/latlng"
	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
	"halfshaft/services/access"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/rpcerr"
)

// reached is how a workshop is reached, all of it.
func reached() *accessv1.OrganisationContact {
	return &accessv1.OrganisationContact{
		AddressLines: []string{"Mill Lane"}, Town: "Ferncombe FC1 2AB", CountryCode: "GB", Phone: "+441632960181", Email: "workshop@ferncombe.example",
		Location: &latlng.LatLng{Latitude: 50.6, Longitude: -3.95}, Work: "axles",
	}
}

// All that is wrong is said at once, and nothing of an address, which may be that
// of somebody's home, is repeated.
func TestWhatIsWrongWithAContactIsSaidAtOnceAndNotRepeated(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	ctx, admin := h.admin()
	for name, c := range map[string]struct {
		change func(*accessv1.OrganisationContact)
		fields string
	}{
		"nothing is wrong":                  {func(*accessv1.OrganisationContact) {}, ""},
		"only a telephone is published":     {func(c *accessv1.OrganisationContact) { *c = accessv1.OrganisationContact{Phone: c.GetPhone()} }, ""},
		"a number as it is dialled at home": {func(c *accessv1.OrganisationContact) { c.Phone = "01632 960181" }, "phone"},
		"a name beside the mailbox":         {func(c *accessv1.OrganisationContact) { c.Email = "Ned <ned@ferncombe.example>" }, "email"},
		"no country of an address":          {func(c *accessv1.OrganisationContact) { c.CountryCode = "" }, "country_code"},
		"a country that there is not":       {func(c *accessv1.OrganisationContact) { c.CountryCode = "QZ" }, "country_code"},
		"a country by another code":         {func(c *accessv1.OrganisationContact) { c.CountryCode = "UK" }, "country_code"},
		"small letters":                     {func(c *accessv1.OrganisationContact) { c.CountryCode = "gb" }, "country_code"},
		"beyond the pole":                   {func(c *accessv1.OrganisationContact) { c.Location.Latitude = 90.01 }, "location"},
		"once round and more":               {func(c *accessv1.OrganisationContact) { c.Location.Longitude = -180.01 }, "location"},
		"a line break, and seven lines": {func(c *accessv1.OrganisationContact) {
			c.AddressLines = []string{"Mill\nLane", "2", "3", "4", "5", "6", "7"}
		}, "address_lines address_lines[0]"},
		"all of it": {func(c *accessv1.OrganisationContact) {
			*c = accessv1.OrganisationContact{Phone: "secret", Email: "secret", Town: "secret\x00", CountryCode: "England", Location: &latlng.LatLng{Latitude: 91}}
		}, "country_code email location phone town"},
	} {
		t.Run(name, func(t *testing.T) {
			contact := reached()
			c.change(contact)
			id := "organisations/" + strings.ReplaceAll(strings.ToLower(strings.ReplaceAll(name, ",", "")), " ", "-")
			made, err := admin.CreateOrganisation(ctx, &accessv1.CreateOrganisationRequest{Organisation: &accessv1.Organisation{Name: id, Title: "Ferncombe Garage", Contact: contact}})
			if c.fields == "" {
				if err != nil || !proto.Equal(made.GetContact(), contact) {
					t.Errorf("got %v, %v", made, err)
				}
				return
			}
			if err == nil {
				t.Fatal("taken")
			}
			var fields []string
			for _, f := range rpcerr.FromStatus(err).Fields {
				fields = append(fields, strings.TrimPrefix(f.Name, "organisation.contact."))
			}
			slices.Sort(fields)
			if got := strings.Join(fields, " "); got != c.fields || strings.Contains(err.Error(), "secret") || strings.Contains(err.Error(), "Lane") {
				t.Errorf("wrong are %q, want %q: %v", got, c.fields, err)
			}
		})
	}
}

// A change keeps, replaces or takes away the contact as it says; a year after the
// organisation was closed the contact goes by itself, and the name stays.
func TestAContactIsChangedAndGoesAYearAfterTheEnd(t *testing.T) {
	client := etcdtest.Client(t)
	h := open(t, client)
	ctx, admin := h.admin()
	o, err := admin.CreateOrganisation(ctx, &accessv1.CreateOrganisationRequest{Organisation: &accessv1.Organisation{Name: "organisations/ferncombe", Title: "Ferncombe Garage", Contact: reached()}})
	if err != nil {
		t.Fatal(err)
	}
	update := func(closed bool) {
		t.Helper()
		if o, err = admin.UpdateOrganisation(ctx, &accessv1.UpdateOrganisationRequest{Organisation: o, Closed: closed}); err != nil {
			t.Fatal(err)
		}
	}
	o.Contact = nil
	if update(false); o.GetContact() != nil {
		t.Errorf("left out, and there: %v", o)
	}
	o.Contact = reached()
	if update(true); !proto.Equal(o.GetContact(), reached()) {
		t.Errorf("got %v", o)
	}
	if _, err := admin.CreateOrganisation(ctx, &accessv1.CreateOrganisationRequest{Organisation: &accessv1.Organisation{Name: "organisations/open", Title: "Open Garage", Contact: reached()}}); err != nil {
		t.Fatal(err)
	}
	elected, err := client.Put(t.Context(), "/elections/test", "")
	if err != nil {
		t.Fatal(err)
	}
	after := func(at time.Time) *accessv1.Organisation {
		t.Helper()
		h.Set(at)
		if err := h.service.RetentionJob().Pass(t.Context(), h.Now(), kv.Fence{Key: "/elections/test", CreateRevision: elected.Header.Revision}); err != nil {
			t.Fatal(err)
		}
		left, err := h.service.GetOrganisation(t.Context(), &accessv1.GetOrganisationRequest{Name: o.GetName()})
		if err != nil {
			t.Fatal(err)
		}
		return left
	}
	if left := after(today.AddDate(1, 0, 0).Add(-time.Second)); left.GetContact() == nil {
		t.Error("gone before its time")
	}
	h.Set(today.AddDate(1, 0, 0))
	listed, err := h.service.ListRetention(access.NewContext(t.Context(), access.Caller{Role: access.Administrator}), &privacyv1.ListRetentionRequest{})
	if err != nil || !slices.ContainsFunc(listed.GetLines(), func(l *privacyv1.RetentionLine) bool {
		return l.GetName() == o.GetName() && l.GetSentence() == "How it was reached is removed: closed on 2026-11-25."
	}) {
		t.Errorf("listed beforehand: %v, %v", listed, err)
	}
	if left := after(today.AddDate(1, 0, 0)); left.GetContact() != nil || left.GetTitle() != "Ferncombe Garage" {
		t.Errorf("left is %v", left)
	}
	open, err := h.service.GetOrganisation(t.Context(), &accessv1.GetOrganisationRequest{Name: "organisations/open"})
	if err != nil || open.GetContact() == nil {
		t.Errorf("one that is open lost it: %v, %v", open, err)
	}
}
