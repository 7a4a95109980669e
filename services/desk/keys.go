package desk

import (
	"net/http"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
)

// keyForm asks for a key. The fields have the names of the request's.
func keyForm() *form {
	return &form{ID: "key", Action: "/keys", Submit: "Make the key", Fields: []field{
		{Name: "key.title", Label: "What it is for", Type: "text", Autocomplete: "off", Required: true, Hint: "As in workshop tablet."},
		{Name: "key.role", Label: "Role", Options: roleOptions(accessv1.Role_ROLE_SUPPORT, append(staffRoles, accessv1.Role_ROLE_OWNER, accessv1.Role_ROLE_SERVICE)...)},
		{Name: "key.bearer", Label: "Whom records name", Type: "text", Autocomplete: "off", Hint: "As in bench 2. Nothing for an owner, or where an account is given."},
		{Name: "key.account", Label: "Account, for somebody's own key", Type: "text", Autocomplete: "off", Hint: "Its name, as in ida. With the account the key is closed."},
		{Name: "key.organisation", Label: "Organisation, for a dealer's key", Type: "text", Autocomplete: "off", Hint: "Its short name, as in ferncombe."},
		{Name: "key.person", Label: "Person, for an owner's key", Type: "text", Autocomplete: "off", Hint: "Their identifier, as in p0031."},
		{Name: "key.scopes", Label: "Only for", Type: "text", Autocomplete: "off", Hint: "As in schedule, parts.read. Nothing means all that the role may."},
		{Name: "key.expire_time", Label: "Ends on", Type: "date", Hint: "At the end of this day in UTC. Nothing means never."},
		requestField(),
	}}
}

func (v *visit) showKeys() { v.keysPage(http.StatusOK, keyForm()) }

func (v *visit) keysPage(status int, f *form) {
	list, err := v.d.Access.ListKeys(v.as(), &accessv1.ListKeysRequest{PageSize: 100, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Keys", Heads: []string{"Key", "Role", "Last used", "State", ""}, Empty: "There is no key."}
	for _, k := range list.GetKeys() {
		t.Rows = append(t.Rows, v.keyRow(k))
	}
	v.render(status, view{Title: "Keys", Note: notes[v.r.URL.Query().Get("done")], Blocks: []block{
		{Text: []string{"For programs, and for the command line."}, Table: t, Links: more("/keys?page=", list.GetNextPageToken())},
		{Heading: "Make a key", Form: f},
	}})
}

func (v *visit) keyRow(k *accessv1.Key) []cell {
	state, act := "good", cell{}
	switch now := v.d.Clock(); {
	case k.GetRevokeTime() != nil:
		state = "revoked on " + day(k.GetRevokeTime(), true)
	case k.GetExpireTime() != nil && !now.Before(k.GetExpireTime().AsTime()):
		state = "ended on " + day(k.GetExpireTime(), true)
	default:
		if k.GetExpireTime() != nil {
			state = "good until " + moment(k.GetExpireTime(), true)
		}
		fields := []field{{Name: "etag", Type: "hidden", Value: k.GetEtag()}, requestField()}
		act.Form = &form{ID: "rotate-" + bare(k.GetName()), Action: "/" + k.GetName() + "/rotate", Submit: "Rotate", Fields: fields}
	}
	role := roleWords[k.GetRole()]
	if o := k.GetOrganisation(); o != "" {
		role += " at " + bare(o)
	}
	if s := k.GetScopes(); len(s) > 0 {
		role += ", only " + strings.Join(s, ", ")
	}
	row := []cell{
		{Text: k.GetTitle(), Sub: bare(k.GetName()) + " · " + k.GetBearer()}, {Text: role},
		{Text: moment(k.GetLastUseTime(), k.GetLastUseTime() != nil)}, {Text: state}, act,
	}
	if act.Form != nil {
		row[4].More = &form{ID: "revoke-" + bare(k.GetName()), Action: "/" + k.GetName() + "/revoke", Submit: "Revoke", Grave: true,
			Fields: []field{{Name: "etag", Type: "hidden", Value: k.GetEtag()}, requestField()}}
	}
	return row
}

func (v *visit) createKey() {
	if !v.readForm() {
		return
	}
	under := func(collection, id string) string {
		if id == "" {
			return ""
		}
		return collection + id
	}
	k := &accessv1.Key{
		Title: v.value("key.title"), Role: roleOf(v.value("key.role")), Bearer: v.value("key.bearer"),
		Account: under("accounts/", v.value("key.account")), Organisation: under("organisations/", v.value("key.organisation")),
		Person: under("people/", v.value("key.person")),
		Scopes: strings.FieldsFunc(v.value("key.scopes"), func(r rune) bool { return r == ',' || r == ' ' }),
	}
	if end := v.value("key.expire_time"); end != "" {
		day, err := time.Parse(time.DateOnly, end)
		if err != nil {
			f := keyForm().filled(v)
			f.field("key.expire_time").Error = "Please enter a day, as in 2027-03-31."
			v.keysPage(http.StatusUnprocessableEntity, f)
			return
		}
		k.ExpireTime = timestamppb.New(day.AddDate(0, 0, 1))
	}
	made, err := v.d.Access.CreateKey(v.as(), &accessv1.CreateKeyRequest{Key: k, RequestId: v.request()})
	if err != nil {
		f := keyForm().filled(v)
		v.again(err, f, func(status int) { v.keysPage(status, f) })
		return
	}
	v.keyMade(made)
}

// keyMade shows a new key's secret, this once.
func (v *visit) keyMade(made *accessv1.CreateKeyResponse) {
	back := []link{{Label: "Back to the keys", Path: "/keys"}}
	if made.GetSecret() == "" {
		v.show("Made before", block{Text: []string{"This key was made and shown before. Its secret is kept nowhere: revoke it and make another."}, Links: back})
		return
	}
	v.show("The key", block{
		Text:  []string{"Hand it over by a way that nobody else reads. It is shown this once and kept nowhere."},
		Codes: []string{made.GetSecret()}, Links: back,
	})
}

// overlap is how long the older key stays good beside its successor.
const overlap = 7 * 24 * time.Hour

func (v *visit) rotateKey() {
	if !v.readForm() {
		return
	}
	made, err := v.d.Access.RotateKey(v.as(), &accessv1.RotateKeyRequest{
		Name: "keys/" + v.r.PathValue("key"), Etag: v.value("etag"), Overlap: durationpb.New(overlap), RequestId: v.request(),
	})
	if err != nil {
		v.refuse(err)
		return
	}
	v.keyMade(made)
}

func (v *visit) revokeKey() {
	if !v.readForm() {
		return
	}
	_, err := v.d.Access.RevokeKey(v.as(), &accessv1.RevokeKeyRequest{Name: "keys/" + v.r.PathValue("key"), Etag: v.value("etag"), RequestId: v.request()})
	v.done(err, "/keys?done=revoked")
}
