package accessgate

import (
	"context"
	"strings"
	"testing"

	clientv3 "go.etcd.io/etcd/client/v3"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessaudit"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

// With the real recorder over a real store: what a handler changes and the
// line that says so come at one revision, so that no crash parts them; and
// what changes nothing has its line by the time the recorder is closed.
func TestALineStandsInTheStoreAtTheRevisionOfItsEffect(t *testing.T) {
	client := etcdtest.Client(t)
	store := kv.NewStore(client)
	recorder := accessaudit.NewRecorder(accessaudit.RecorderConfig{Store: store})
	s := newScene(t)
	s.gate.recorder = recorder
	request := &buildv1.AmendBuildRequest{Build: &buildv1.Build{Name: "builds/AM0147P"}, Reason: "the release was misread"}
	as := func(role access.Role, handler func(ctx context.Context, req any) (any, error)) {
		s.call(forwards(access.Caller{Role: role, Bearer: role.String()}), buildv1.BuildService_AmendBuild_FullMethodName, request, handler)
	}
	as(access.Engineer, func(ctx context.Context, _ any) (any, error) {
		return nil, change(ctx, store, request.GetBuild())
	})
	as(access.Administrator, doesNothing)
	as(access.Support, doesNothing)
	if err := recorder.Close(); err != nil {
		t.Fatal(err)
	}
	resp, err := client.Get(t.Context(), "/halfshaft/v1/", clientv3.WithPrefix())
	if err != nil {
		t.Fatal(err)
	}
	effect, lines := int64(0), map[string]int64{}
	for _, e := range resp.Kvs {
		text := string(e.Value)
		switch {
		case strings.HasSuffix(string(e.Key), "/test/thing/1"):
			effect = e.ModRevision
		case strings.Contains(text, "AmendBuild"):
			for _, role := range []string{"engineer", "administrator", "support"} {
				if strings.Contains(text, role) {
					lines[role] = e.ModRevision
				}
			}
		}
	}
	if effect == 0 || lines["engineer"] != effect {
		t.Errorf("the effect came at %d, its line at %d", effect, lines["engineer"])
	}
	if lines["administrator"] == 0 || lines["support"] == 0 {
		t.Errorf("what changed nothing or was refused has no line: %v", lines)
	}
}
