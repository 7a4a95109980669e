package works

import (
	"context"
	"crypto/tls"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"halfshaft/services/internal/certificates"
)

// betweenLooks is how often the certificates of the process are looked at
// though nobody calls.
const betweenLooks = time.Hour

// certificates of this process by what they are for.
func (c Config) certificates() map[string]*certificates.Keeper {
	all := map[string]*certificates.Keeper{}
	if c.TLS != nil {
		all["listen"] = c.TLS
	}
	if c.HTTPTLS != nil {
		all["pages"] = c.HTTPTLS
	}
	return all
}

// watchCertificates takes new certificates from their files and speaks of those
// that are about to end, by the machine's clock whatever the date of the
// process is: TLS goes by that.
func (p *Process) watchCertificates(ctx context.Context) {
	for use, keeper := range p.config.certificates() {
		check := func(*tls.Certificate) error { return nil }
		if use == "listen" && p.config.PeerTLS != nil {
			check = func(chain *tls.Certificate) error { return provable(chain, p.config.PeerTLS) }
		}
		keeper.Require(check, p.config.Logger)
		p.background.Go(func() error {
			ticker := time.NewTicker(betweenLooks)
			defer ticker.Stop()
			keeper.Watch(ctx, ticker.C, time.Now, p.config.Logger)
			return nil
		})
	}
}

// registerCertificates exports when each certificate ends.
func (p *Process) registerCertificates(registry prometheus.Registerer) {
	for use, keeper := range p.config.certificates() {
		registry.MustRegister(prometheus.NewGaugeFunc(prometheus.GaugeOpts{
			Namespace: "halfshaft", Name: "certificate_end_timestamp_seconds",
			Help:        "When a TLS certificate of this process ends, in seconds since 1970.",
			ConstLabels: prometheus.Labels{"use": use},
		}, func() float64 {
			ends, _, _ := keeper.Left(time.Now())
			return float64(ends.Unix())
		}))
	}
}

// endingCertificate tells the alarms of the first of the process's certificates
// that is about to end.
func (c Config) endingCertificate() (sentence string, since time.Time, urgent bool) {
	var first time.Time
	for _, keeper := range c.certificates() {
		ends, said, soon := keeper.Left(time.Now())
		if soon && (first.IsZero() || ends.Before(first)) {
			first, sentence, since, urgent = ends, said, ends.Add(-certificates.Watched), true
		}
	}
	return sentence, since, urgent
}
