// Package deploy_test runs what this directory tells operators to run.
package deploy_test

import (
	"bytes"
	"context"
	"crypto/tls"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"go.uber.org/zap"
)

const members = 3

// patience is how long the cluster may take over one step on a slow machine
// before the test gives up. Nothing waits for it to pass.
const patience = time.Minute

func TestTheThreeExampleFilesDifferOnlyInNameAndAddress(t *testing.T) {
	first := example(t, 1)
	for i := 2; i <= members; i++ {
		own := strings.NewReplacer(
			fmt.Sprintf("Member %d of", i), "Member 1 of",
			fmt.Sprintf("name: works-%d", i), "name: works-1",
			fmt.Sprintf("urls: https://192.0.2.1%d:2380", i), "urls: https://192.0.2.11:2380",
		).Replace(example(t, i))
		if own != first {
			t.Errorf("etcd-%d.yaml differs from etcd-1.yaml in more than name and address", i)
		}
	}
}

func TestTheExampleClusterServesThroughTheLossOfAnyMember(t *testing.T) {
	if os.Getenv("HALFSHAFT_ETCD_BIN") == "" {
		t.Skip("HALFSHAFT_ETCD_BIN names no etcd server: run the tests with make")
	}
	c := newCluster(t)
	for i := 1; i <= members; i++ {
		c.start(i)
	}

	// Through each member in turn, as halfshaft on each machine would.
	for i := 1; i <= members; i++ {
		c.put(i, "serial", fmt.Sprint(i))
		for j := 1; j <= members; j++ {
			if got := c.get(j, "serial"); got != fmt.Sprint(i) {
				t.Errorf("member %d reads %q after member %d wrote %d", j, got, i, i)
			}
		}
		// A follower hands keepalives on to the leader, over the members' TLS.
		c.keepLease(i)
	}

	for lost := 1; lost <= members; lost++ {
		c.kill(lost)
		other := lost%members + 1
		want := fmt.Sprintf("without %d", lost)
		c.put(other, "serial", want)
		c.start(lost)
		if got := c.get(lost, "serial"); got != want {
			t.Errorf("member %d came back and reads %q, want %q", lost, got, want)
		}
	}
}

func TestAMemberTalksToNobodyWithoutACertificate(t *testing.T) {
	if os.Getenv("HALFSHAFT_ETCD_BIN") == "" {
		t.Skip("HALFSHAFT_ETCD_BIN names no etcd server: run the tests with make")
	}
	c := newCluster(t)
	for i := 1; i <= members; i++ {
		c.start(i)
	}
	c.put(1, "serial", "there")

	ask := func(config *tls.Config) error {
		web := &http.Client{Transport: &http.Transport{TLSClientConfig: config, DisableKeepAlives: true}}
		ctx, cancel := context.WithTimeout(t.Context(), patience)
		defer cancel()
		request, err := http.NewRequestWithContext(ctx, http.MethodGet, "https://"+c.peer[1]+"/members", nil)
		if err != nil {
			t.Fatal(err)
		}
		answer, err := web.Do(request)
		if err != nil {
			return err
		}
		return answer.Body.Close()
	}
	if err := ask(c.pki.tls(t, true)); err != nil {
		t.Errorf("another member is refused: %v", err)
	}
	// The alert certificate_required, RFC 8446 section 6.2, in Go's words.
	if err := ask(c.pki.tls(t, false)); err == nil || !strings.Contains(err.Error(), "certificate required") {
		t.Errorf("a stranger gets %v, want to be asked for a certificate", err)
	}
}

// example reads one of the configuration files.
func example(t *testing.T, member int) string {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("cluster/etcd-%d.yaml", member))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// cluster is the three example members on this machine: the configuration
// files with their addresses and paths exchanged. Members count from 1.
type cluster struct {
	t      *testing.T
	dir    string
	pki    pki
	peer   [members + 1]string
	client [members + 1]string
	run    [members + 1]*exec.Cmd
	log    [members + 1]*bytes.Buffer
	api    [members + 1]*clientv3.Client
}

func newCluster(t *testing.T) *cluster {
	t.Helper()
	c := &cluster{t: t, dir: t.TempDir()}
	c.pki = newPKI(t, c.dir)
	addresses := freeAddresses(t, 2*members)
	var swap []string
	for i := 1; i <= members; i++ {
		c.peer[i], c.client[i] = addresses[i-1], addresses[members+i-1]
		swap = append(swap, fmt.Sprintf("192.0.2.1%d:2380", i), c.peer[i])
	}
	for i := 1; i <= members; i++ {
		own := slices.Concat(swap, []string{
			"127.0.0.1:2379", c.client[i],
			"/etc/etcd/pki", c.dir,
			"/var/lib/etcd/works", filepath.Join(c.dir, fmt.Sprintf("data-%d", i)),
		})
		text := strings.NewReplacer(own...).Replace(example(t, i))
		if err := os.WriteFile(c.config(i), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		api, err := clientv3.New(clientv3.Config{Endpoints: []string{c.client[i]}, Logger: zap.NewNop()})
		if err != nil {
			t.Fatal(err)
		}
		c.api[i] = api
		t.Cleanup(func() { _ = api.Close() })
	}
	return c
}

func (c *cluster) config(i int) string { return filepath.Join(c.dir, fmt.Sprintf("etcd-%d.yaml", i)) }

// start runs a member and returns at once: whoever asks it something waits.
func (c *cluster) start(i int) {
	c.t.Helper()
	run := exec.Command(os.Getenv("HALFSHAFT_ETCD_BIN"), "--config-file", c.config(i))
	c.log[i] = new(bytes.Buffer)
	run.Stdout, run.Stderr = c.log[i], c.log[i]
	if err := run.Start(); err != nil {
		c.t.Fatal(err)
	}
	c.run[i] = run
	c.t.Cleanup(func() {
		if c.run[i] == run {
			c.kill(i)
		}
	})
}

// kill ends a member as a power cut would.
func (c *cluster) kill(i int) {
	_ = c.run[i].Process.Kill()
	_ = c.run[i].Wait() // says that it was killed
	c.run[i] = nil
}

func (c *cluster) put(i int, key, value string) {
	c.t.Helper()
	c.ask(i, func(ctx context.Context, api *clientv3.Client) error {
		_, err := api.Put(ctx, key, value)
		return err
	})
}

// get reads what a majority agrees on.
func (c *cluster) get(i int, key string) string {
	c.t.Helper()
	var value string
	c.ask(i, func(ctx context.Context, api *clientv3.Client) error {
		answer, err := api.Get(ctx, key)
		if err == nil && len(answer.Kvs) == 1 {
			value = string(answer.Kvs[0].Value)
		}
		return err
	})
	return value
}

func (c *cluster) keepLease(i int) {
	c.t.Helper()
	c.ask(i, func(ctx context.Context, api *clientv3.Client) error {
		lease, err := api.Grant(ctx, 60)
		if err != nil {
			return err
		}
		_, err = api.KeepAliveOnce(ctx, lease.ID)
		return err
	})
}

// ask asks one member until it answers: while members come and go it has no
// leader for a moment, and says so.
func (c *cluster) ask(i int, question func(context.Context, *clientv3.Client) error) {
	c.t.Helper()
	ctx, cancel := context.WithTimeout(c.t.Context(), patience)
	defer cancel()
	for {
		once, stop := context.WithTimeout(ctx, 2*time.Second)
		err := question(once, c.api[i])
		stop()
		if err == nil {
			return
		}
		if ctx.Err() != nil {
			if c.run[i] != nil {
				c.kill(i) // so that its log can be read
			}
			c.t.Fatalf("member %d gives no answer: %v\n%s", i, err, c.log[i])
		}
	}
}

// freeAddresses gives addresses of this machine that nobody listened on a
// moment ago.
func freeAddresses(t *testing.T, n int) []string {
	t.Helper()
	addresses := make([]string, n)
	for i := range addresses {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		defer func() { _ = l.Close() }()
		addresses[i] = l.Addr().String()
	}
	return addresses
}
