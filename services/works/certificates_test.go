package works_test

import (
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"halfshaft/services/works"
)

// The collector sees when each certificate ends, whether reminders run in the
// process or not, and pages are served by the one that was made for them.
func TestTheEndOfACertificateIsAMetricOfEveryProcess(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "authority")
	signing := works.Authority{Dir: dir, Now: time.Now(), Out: io.Discard}
	if err := signing.Create("Aldermoor Works"); err != nil {
		t.Fatal(err)
	}
	ends := map[string]time.Time{}
	keeper := func(name string, days int) (cert, key string) {
		if err := signing.Issue(name, []string{"127.0.0.1"}, "process", days); err != nil {
			t.Fatal(err)
		}
		cert, key = filepath.Join(dir, "issued", name+".pem"), filepath.Join(dir, "issued", name+".key")
		pair, err := tls.LoadX509KeyPair(cert, key)
		if err != nil {
			t.Fatal(err)
		}
		ends[name] = pair.Leaf.NotAfter
		return cert, key
	}
	door, err := works.CertificateFiles(keeper("door", 300))
	if err != nil {
		t.Fatal(err)
	}
	pages, err := works.CertificateFiles(keeper("pages", 10))
	if err != nil {
		t.Fatal(err)
	}
	ca, err := os.ReadFile(filepath.Join(dir, "ca.pem"))
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AppendCertsFromPEM(ca)
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true, TLSClientConfig: &tls.Config{RootCAs: roots}}}
	get := func(address string) (*http.Response, string) {
		t.Helper()
		answer, err := client.Get(address)
		if err != nil {
			t.Fatal(err)
		}
		defer answer.Body.Close()
		body, err := io.ReadAll(answer.Body)
		if err != nil {
			t.Fatal(err)
		}
		return answer, string(body)
	}
	for name, services := range map[string][]string{"all services": nil, "without reminders": {works.Access, works.Owner, works.Build}} {
		t.Run(name, func(t *testing.T) {
			c := works.Config{TLS: door, HTTPTLS: pages, Listen: "127.0.0.1:0", Metrics: "127.0.0.1:0", Services: services}
			if services == nil {
				c.HTTP = "127.0.0.1:0"
			}
			p, _, _ := start(t, c)
			_, metrics := get("http://" + p.MetricsAddress().String() + "/metrics")
			for use, of := range map[string]string{"listen": "door", "pages": "pages"} {
				want := fmt.Sprintf(`halfshaft_certificate_end_timestamp_seconds{use=%q} %g`, use, float64(ends[of].Unix()))
				if !strings.Contains(metrics, want) {
					t.Errorf("the metrics have no\n%s\n%s", want, metrics)
				}
			}
			if services != nil {
				return
			}
			answer, _ := get("https://" + p.HTTPAddress().String() + "/")
			if shown := answer.TLS.PeerCertificates[0].Subject.CommonName; shown != "pages" || answer.Header.Get("Strict-Transport-Security") == "" {
				t.Errorf("the pages show %s, and say %v", shown, answer.Header)
			}
		})
	}
}
