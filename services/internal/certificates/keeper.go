package certificates

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"log/slog"
	"sync"
	"time"

	"halfshaft/services/fault"
)

// Keeper holds the certificate of a process and its key, and takes new ones
// from their files whenever these have changed, at the next handshake. Files
// that do not fit, the key not yet exchanged or half a file, are left alone
// until they do, and what was good stays in use.
type Keeper struct {
	cert, key string

	mu       sync.Mutex
	pair     *tls.Certificate
	read     [2][]byte // what the pair was made of
	refused  [2][]byte // what was looked at last and would not do
	required func(*tls.Certificate) error
	logger   *slog.Logger
}

// Load reads a certificate and its key.
func Load(cert, key string) (*Keeper, error) {
	k := &Keeper{cert: cert, key: key, logger: slog.New(slog.DiscardHandler)}
	text, err := k.files()
	if err == nil {
		k.pair, err = pairOf(text)
	}
	if err != nil {
		return nil, errors.Join(fault.InvalidField("tls-cert, tls-key", cert+", "+key, "a certificate and its key, PEM"), err)
	}
	k.read = text
	return k, nil
}

func (k *Keeper) files() (text [2][]byte, err error) {
	if text[0], err = readSome(k.cert); err != nil {
		return text, err
	}
	text[1], err = readSome(k.key)
	return text, err
}

func pairOf(text [2][]byte) (*tls.Certificate, error) {
	pair, err := tls.X509KeyPair(text[0], text[1])
	if err != nil {
		return nil, err
	}
	if pair.Leaf == nil {
		pair.Leaf, err = x509.ParseCertificate(pair.Certificate[0])
	}
	return &pair, err
}

// Require says what a new certificate must be, and to whom it is told when one
// is not. The one that is in use is not asked again.
func (k *Keeper) Require(check func(*tls.Certificate) error, logger *slog.Logger) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.required, k.logger = check, logger
}

// Current gives the certificate that is in the files now, or the last that was
// good. Reading two small files is nothing beside a handshake.
func (k *Keeper) Current() *tls.Certificate {
	k.mu.Lock()
	defer k.mu.Unlock()
	text, err := k.files()
	if err != nil {
		k.refuse([2][]byte{}, err)
		return k.pair
	}
	if same(text, k.read) {
		return k.pair
	}
	pair, err := pairOf(text)
	if err == nil && time.Now().After(pair.Leaf.NotAfter) {
		err = errors.New("it has ended: on " + day(pair.Leaf.NotAfter))
	}
	if err == nil && k.required != nil {
		err = k.required(pair)
	}
	if err != nil {
		k.refuse(text, err)
		return k.pair
	}
	k.pair, k.read, k.refused = pair, text, [2][]byte{}
	k.logger.Info("a new TLS certificate is in use", "file", k.cert, "ends", day(pair.Leaf.NotAfter))
	return pair
}

// refuse tells once of each pair of files that will not do.
func (k *Keeper) refuse(text [2][]byte, err error) {
	if k.refused[0] != nil && same(text, k.refused) {
		return
	}
	k.refused = [2][]byte{append([]byte{}, text[0]...), append([]byte{}, text[1]...)}
	k.logger.Error("a new TLS certificate is not taken, the former stays in use", "file", k.cert, "error", err)
}

func same(a, b [2][]byte) bool { return bytes.Equal(a[0], b[0]) && bytes.Equal(a[1], b[1]) }

// Server gives what a server with this certificate keeps to beside it. It is
// asked at each handshake, because crypto/tls asks GetCertificate only where
// the caller names a host, and one who calls an address does not.
func (k *Keeper) Server(base *tls.Config) *tls.Config {
	outer := base.Clone()
	var mu sync.Mutex
	var built *tls.Config // kept while the certificate is, so that sessions can be resumed
	var of *tls.Certificate
	outer.GetConfigForClient = func(*tls.ClientHelloInfo) (*tls.Config, error) {
		now := k.Current()
		mu.Lock()
		defer mu.Unlock()
		if of != now {
			of, built = now, base.Clone()
			built.Certificates = []tls.Certificate{*now}
		}
		return built, nil
	}
	return outer
}

// Client makes a client show this certificate to servers that will take it.
func (k *Keeper) Client(base *tls.Config) *tls.Config {
	config := base.Clone()
	config.GetClientCertificate = func(asked *tls.CertificateRequestInfo) (*tls.Certificate, error) {
		if now := k.Current(); asked.SupportsCertificate(now) == nil {
			return now, nil
		}
		return &tls.Certificate{}, nil // shows none, and is told by what is refused
	}
	return config
}

// Left says when the certificate that is in use ends, and of how long that is a
// sentence; urgent where it is less than Watched.
func (k *Keeper) Left(now time.Time) (ends time.Time, sentence string, urgent bool) {
	ends = k.Current().Leaf.NotAfter
	return ends, "the TLS certificate " + k.cert + " " + ending(ends, now), ends.Sub(now) < Watched
}

// Watch tells the log of a certificate that is about to end, at once and then
// every day, and takes exchanged files though nobody calls, until ctx ends.
// tick says when an hour has passed.
func (k *Keeper) Watch(ctx context.Context, tick <-chan time.Time, clock func() time.Time, logger *slog.Logger) {
	var told time.Time
	for {
		now := clock()
		if _, sentence, urgent := k.Left(now); urgent && now.Sub(told) >= 24*time.Hour {
			told = now
			logger.Warn(sentence)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick:
		}
	}
}
