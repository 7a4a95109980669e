// Package certificates is a works' own certificate authority, for a works
// without one, and the certificates of a process: watched for their end, and
// exchanged for new ones while the process runs.
//
// Keys are ECDSA over P-256: every TLS library that may meet these certificates
// takes them, those of mail servers, of etcd and of browsers among them, which
// cannot be said of Ed25519.
//
// There is no list of what was withdrawn. An authority of a works signs a dozen
// certificates of a year each: whoever must be kept out is kept out by a new
// authority, which OPERATIONS.md says how to change to.
package certificates

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"os"
	"path/filepath"
	"time"

	"halfshaft/services/fault"
)

// What stands in the directory of an authority.
const (
	caFile     = "ca.pem" // what everybody else is given
	caKeyFile  = "ca.key" // what nobody else may have
	issuedDir  = "issued" // NAME.pem and NAME.key of each
	recordFile = "issued.jsonl"
)

const (
	authorityYears = 10
	// backdated is how far the clocks of two machines may be apart.
	backdated = time.Hour
)

// Authority is one that may sign.
type Authority struct {
	dir  string
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

// CAFile is the certificate of the authority in a directory, for --peer-ca,
// --tls-ca and --etcd-ca.
func CAFile(dir string) string { return filepath.Join(dir, caFile) }

// Create makes an authority in a directory that has none.
func Create(dir, name string, now time.Time) (*Authority, error) {
	if !isTitle(name) {
		return nil, fault.InvalidField("name", name, "the name of the works, up to 64 characters of one line")
	}
	if err := makePrivate(dir); err != nil {
		return nil, err
	}
	for _, file := range []string{caKeyFile, caFile} {
		if _, err := os.Lstat(filepath.Join(dir, file)); err == nil {
			return nil, fault.New(fault.AlreadyExists, "AUTHORITY_EXISTS",
				"There is an authority in %s already. Another needs another directory: what this one signed would count for nothing.", dir)
		} else if !errors.Is(err, fs.ErrNotExist) {
			return nil, err
		}
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	serial, err := newSerial()
	if err != nil {
		return nil, err
	}
	template := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: name},
		NotBefore: now.Add(-backdated), NotAfter: now.AddDate(authorityYears, 0, 0),
		// It signs what processes show and no further authority.
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true,
		KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		return nil, err
	}
	cert, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	// The key first: a certificate without its key would look like an authority.
	if err := writeKey(filepath.Join(dir, caKeyFile), key); err != nil {
		return nil, err
	}
	if err := writeNew(filepath.Join(dir, caFile), pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o644); err != nil {
		return nil, err
	}
	return &Authority{dir, cert, key}, nil
}

// Open reads the authority of a directory.
func Open(dir string) (*Authority, error) {
	cert, err := readCertificate(filepath.Join(dir, caFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, noAuthority(dir)
	}
	if err != nil {
		return nil, err
	}
	path := filepath.Join(dir, caKeyFile)
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("read the key of the authority: %w", err)
	}
	if info.Mode().Perm()&0o077 != 0 {
		return nil, fault.New(fault.FailedPrecondition, "KEY_READABLE",
			"%s can be read by others (mode %#o). Who has it signs what your services believe: make it 0600, and a new authority if somebody may have had it.", path, info.Mode().Perm())
	}
	key, err := readKey(path)
	if err != nil {
		return nil, err
	}
	if !key.PublicKey.Equal(cert.PublicKey) || !cert.IsCA {
		return nil, fault.New(fault.FailedPrecondition, "KEY_MISMATCH", "%s is not the key of %s.", path, CAFile(dir))
	}
	return &Authority{dir, cert, key}, nil
}

func noAuthority(dir string) error {
	return fault.New(fault.NotFound, "NO_AUTHORITY", "There is no authority in %s: \"halfshaft certs authority --dir %s\" makes one.", dir, dir)
}

// Ends is when the authority, and with it all that it signed, counts no more.
func (a *Authority) Ends() time.Time { return a.cert.NotAfter }

// newSerial is 128 random bits (RFC 5280 section 4.1.2.2 allows 20 octets), of
// which none is ever zero.
func newSerial() (*big.Int, error) {
	for {
		serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 128))
		if err != nil || serial.Sign() > 0 {
			return serial, err
		}
	}
}

// makePrivate makes a directory that nobody else may enter, and refuses one
// that others may.
func makePrivate(dir string) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("make the directory of the authority: %w", err)
	}
	info, err := os.Stat(dir)
	if err != nil {
		return err
	}
	if info.Mode().Perm()&0o077 != 0 {
		return fault.New(fault.FailedPrecondition, "DIRECTORY_OPEN", "%s can be entered by others (mode %#o): make it 0700, or name another.", dir, info.Mode().Perm())
	}
	return nil
}
