package accessgate

import (
	"net"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/projection"
)

// A key of a service speaks for anybody. Whoever carried it off cannot use it
// from elsewhere, also where nobody thought of --peer-ca.
func TestAServicesKeyAloneIsGoodOnThisMachineOnly(t *testing.T) {
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	g, err := New(Config{Clock: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	g.Follow(t.Context(), noKeys{}, oneTie{}, &projection.Group{})
	defer g.Close()
	if err := g.Ready(t.Context()); err != nil {
		t.Fatal(err)
	}
	secrets := map[access.Role]string{}
	told := &accessv1.WatchKeysResponse{Synced: true}
	for i, role := range []access.Role{access.Service, access.Administrator} {
		id, secret, err := access.NewSecret(strings.NewReader(strings.Repeat(string(rune('k'+i)), 37)))
		if err != nil {
			t.Fatal(err)
		}
		secrets[role] = secret
		told.Keys = append(told.Keys, accesswire.KeyWithDigest(access.Key{ID: id, Role: role, Bearer: "desk", Digest: access.DigestOf(secret)}))
	}
	if _, _, _, err := g.keys.apply(told); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		from string
		role access.Role
		in   bool
	}{
		{"127.0.0.1", access.Service, true},
		{"::1", access.Service, true},
		{"::ffff:127.0.0.1", access.Service, true},
		{"192.0.2.17", access.Service, false},
		{"10.0.0.5", access.Service, false},
		{"2001:db8::1", access.Service, false},
		{"192.0.2.17", access.Administrator, true},
	} {
		ctx := peer.NewContext(t.Context(), &peer.Peer{Addr: &net.TCPAddr{IP: net.ParseIP(c.from), Port: 4711}})
		ctx = metadata.NewIncomingContext(ctx, metadata.Pairs("authorization", "Bearer "+secrets[c.role]))
		_, err := g.speaker(ctx)
		if in := err == nil; in != c.in || !in && !fault.Is(err, fault.Unauthenticated) {
			t.Errorf("the role %s from %s: %v", c.role, c.from, err)
		}
	}
}
