package accessrpc_test

import (
	"strings"
	"testing"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
	"halfshaft/services/access"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

// A key's title says what it is for, and may name whose it is.
func TestTheKeyOfSomebodyWhoWasErasedGoesInTheNextNight(t *testing.T) {
	client := etcdtest.Client(t)
	h := open(t, client)
	ctx, admin := h.admin()
	made := map[string]string{}
	key := func(title, person string, role accessv1.Role) {
		t.Helper()
		k := &accessv1.Key{Title: title, Role: role, Person: person}
		if role != accessv1.Role_ROLE_OWNER {
			k.Bearer = "bench 2"
		}
		got, err := admin.CreateKey(ctx, &accessv1.CreateKeyRequest{Key: k})
		if err != nil {
			t.Fatal(err)
		}
		made[got.GetKey().GetName()] = title
	}
	key("somebody's telephone", "people/p1", accessv1.Role_ROLE_OWNER)
	key("Ada Nettlefold's telephone", "people/p9", accessv1.Role_ROLE_OWNER)
	key("a bench", "", accessv1.Role_ROLE_ENGINEER)
	h.Set(today.Add(25 * time.Hour))
	key("for somebody whose record is made later", "people/p8", accessv1.Role_ROLE_OWNER)

	elected, err := client.Put(t.Context(), "/elections/test", "")
	if err != nil {
		t.Fatal(err)
	}
	pass := func() {
		t.Helper()
		fence := kv.Fence{Key: "/elections/test", CreateRevision: elected.Header.Revision}
		if err := h.service.RetentionJob().Pass(t.Context(), h.Now(), fence); err != nil {
			t.Fatal(err)
		}
	}
	listed, err := h.service.ListRetention(access.NewContext(t.Context(), access.Caller{Role: access.Administrator}), &privacyv1.ListRetentionRequest{})
	if err != nil || len(listed.GetLines()) != 1 || !strings.Contains(made[listed.GetLines()[0].GetName()], "Ada") {
		t.Errorf("listed %v, %v", listed, err)
	}
	pass()
	left, err := admin.ListKeys(ctx, &accessv1.ListKeysRequest{})
	if err != nil {
		t.Fatal(err)
	}
	var titles []string
	for _, k := range left.GetKeys() {
		titles = append(titles, k.GetTitle())
	}
	if got := strings.Join(titles, ", "); strings.Contains(got, "Ada") || len(titles) != len(made) { // the first administrator's stays
		t.Errorf("left are %s", got)
	}
}
