package certificates

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"halfshaft/services/fault"
	"halfshaft/services/internal/wholefile"
)

// mostPEM is more than any file of certificates and keys here is long.
const mostPEM = 1 << 20

// parseCertificate reads the first certificate of a PEM file.
func parseCertificate(text []byte) (*x509.Certificate, error) {
	block, _ := pem.Decode(text)
	if block == nil || block.Type != "CERTIFICATE" {
		return nil, fault.InvalidField("certificate", "", "a PEM file that begins with a certificate")
	}
	cert, err := x509.ParseCertificate(block.Bytes)
	if err != nil {
		return nil, errors.Join(fault.InvalidField("certificate", "", "a certificate as of RFC 5280"), err)
	}
	return cert, nil
}

// parseKey reads the key of an authority, as Create wrote it.
func parseKey(text []byte) (*ecdsa.PrivateKey, error) {
	wrong := fault.InvalidField("key", "", "a key of \"halfshaft certs authority\": PKCS #8, ECDSA, P-256")
	block, _ := pem.Decode(text)
	if block == nil || block.Type != "PRIVATE KEY" {
		return nil, wrong
	}
	key, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	if err != nil {
		return nil, wrong
	}
	if key, ok := key.(*ecdsa.PrivateKey); ok && key.Curve == elliptic.P256() {
		return key, nil
	}
	return nil, wrong
}

func readCertificate(path string) (*x509.Certificate, error) {
	text, err := readSome(path)
	if err != nil {
		return nil, err
	}
	cert, err := parseCertificate(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return cert, nil
}

func readKey(path string) (*ecdsa.PrivateKey, error) {
	text, err := readSome(path)
	if err != nil {
		return nil, err
	}
	key, err := parseKey(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return key, nil
}

// readSome reads a file, but no more of it than a certificate can be.
func readSome(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, mostPEM+1))
	if err == nil && len(text) > mostPEM {
		err = fmt.Errorf("%s is longer than any certificate", path)
	}
	return text, err
}

func writeKey(path string, key *ecdsa.PrivateKey) error {
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return err
	}
	return writeNew(path, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der}), 0o600)
}

// writeNew writes a file that is not there yet, whole and on the disk.
func writeNew(path string, text []byte, mode os.FileMode) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	if err == nil {
		err = f.Chmod(mode) // whatever the umask says
	}
	if err == nil {
		err = f.Sync()
	}
	if err := errors.Join(err, f.Close()); err != nil {
		return errors.Join(err, os.Remove(path))
	}
	return wholefile.SyncDir(filepath.Dir(path))
}
