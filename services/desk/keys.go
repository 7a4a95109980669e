package desk

import (
	"net/http"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
)

func (v *visit) showKeys() {
	list, err := v.d.Access.ListKeys(v.as(), &accessv1.ListKeysRequest{PageSize: 50, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Keys", Heads: []string{"Key", "Role", "Last used, to the hour", "State", ""}, Empty: "There is no key."}
	for _, k := range list.GetKeys() {
		t.Rows = append(t.Rows, v.keyRow(k))
	}
	var kinds []link
	for _, k := range keyKinds {
		kinds = append(kinds, link{Label: k.label, Path: "/keys/new/" + k.word})
	}
	v.show("Keys",
		block{Text: []string{"For programs, and for the command line."}, Table: t, Links: more("/keys?page=", list.GetNextPageToken())},
		block{Heading: "Make a key", Text: []string{"Whom is it for?"}, Links: kinds},
	)
}

func (v *visit) keyRow(k *accessv1.Key) []cell {
	state, act := "good", cell{}
	switch now := v.d.Clock(); {
	case k.GetRevokeTime() != nil:
		state = "revoked on " + day(k.GetRevokeTime())
	case k.GetExpireTime() != nil && !now.Before(k.GetExpireTime().AsTime()):
		state = "ended on " + day(k.GetExpireTime())
	default:
		if k.GetExpireTime() != nil {
			state = "good until " + moment(k.GetExpireTime())
		}
		fields := []field{{Name: "etag", Type: "hidden", Value: k.GetEtag()}, requestField()}
		act.Form = &form{ID: "rotate-" + bare(k.GetName()), Action: "/" + k.GetName() + "/rotate", Submit: "Rotate", Fields: fields}
	}
	role := roleWords[k.GetRole()]
	if o := k.GetOrganisation(); o != "" {
		role += " at " + bare(o)
	}
	if p := k.GetPerson(); p != "" {
		role += " " + bare(p)
	}
	if s := k.GetScopes(); len(s) > 0 {
		role += ", only " + strings.Join(s, ", ")
	}
	row := []cell{
		{Text: k.GetTitle(), Sub: bare(k.GetName()) + " · " + k.GetBearer()}, {Text: role},
		{Text: moment(k.GetLastUseTime())}, {Text: state}, act,
	}
	if act.Form != nil {
		row[4].More = &form{ID: "revoke-" + bare(k.GetName()), Action: "/" + k.GetName() + "/revoke", Submit: "Revoke", Grave: true,
			Fields: []field{{Name: "etag", Type: "hidden", Value: k.GetEtag()}, {Name: "title", Type: "hidden", Value: k.GetTitle()}, requestField()}}
	}
	return row
}

// keyOfForm reads a key; names may come with or without their collection.
func (v *visit) keyOfForm() *accessv1.Key {
	under := func(collection, id string) string {
		if id == "" {
			return ""
		}
		return collection + bare(id)
	}
	return &accessv1.Key{
		Title: v.value("key.title"), Role: roleOf(v.value("key.role")), Bearer: v.value("key.bearer"),
		Account: under("accounts/", v.value("key.account")), Organisation: under("organisations/", v.value("key.organisation")),
		Person: under("people/", v.value("key.person")),
		Scopes: strings.FieldsFunc(v.value("key.scopes"), func(r rune) bool { return r == ',' || r == ' ' }),
	}
}

func (v *visit) createKey() {
	if !v.readForm() {
		return
	}
	kind, ok := keyKindOf(v.value("for"))
	if !ok {
		kind = keyKinds[0]
	}
	f, err := v.keyForm(kind)
	if err != nil {
		v.refuse(err)
		return
	}
	f.filled(v)
	k := v.keyOfForm()
	if end := v.value("key.expire_time"); end != "" {
		day, err := time.Parse(time.DateOnly, end)
		if err != nil {
			f.field("key.expire_time").Error = "Please enter a day, as in 2027-03-31."
			v.newKeyPage(http.StatusUnprocessableEntity, kind, f)
			return
		}
		k.ExpireTime = timestamppb.New(day.AddDate(0, 0, 1))
	}
	made, err := v.d.Access.CreateKey(v.as(), &accessv1.CreateKeyRequest{Key: k, RequestId: v.request()})
	if err != nil {
		v.again(err, f, func(status int) { v.newKeyPage(status, kind, f) })
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
		Text:   []string{"It is shown this once and kept nowhere: copy it now, and hand it over by a way that nobody else reads."},
		Secret: &secret{"Key", made.GetSecret()}, Links: back,
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

// revokeKey asks first: what was revoked is not brought back, and a program
// somewhere stands still.
func (v *visit) revokeKey() {
	if !v.readForm() {
		return
	}
	if v.value("sure") == "" {
		v.show("Revoke this key?", block{
			Text: []string{"The key " + v.r.PathValue("key") + ", " + v.value("title") + ", opens nothing from then on, and cannot be made good again. Whatever uses it stands still until it has another."},
			Form: &form{ID: "sure", Action: v.r.URL.Path, Submit: "Revoke it", Grave: true, Fields: []field{
				{Name: "sure", Type: "hidden", Value: "yes"}, {Name: "etag", Type: "hidden", Value: v.value("etag")}, {Name: "request", Type: "hidden", Value: v.request()},
			}},
			Links: []link{{Label: "Leave it as it is", Path: "/keys"}},
		})
		return
	}
	_, err := v.d.Access.RevokeKey(v.as(), &accessv1.RevokeKeyRequest{Name: "keys/" + v.r.PathValue("key"), Etag: v.value("etag"), RequestId: v.request()})
	v.done(err, "/keys?done=revoked")
}
