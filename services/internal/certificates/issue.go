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
	"net/netip"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/internal/wholefile"
)

// Use is what a certificate is for.
type Use string

// The uses. A process of a split and a member of an etcd cluster are called by
// their like and call them, so theirs are for a server and a client.
const (
	ForProcess Use = "process"
	ForServer  Use = "server"
	ForEtcd    Use = "etcd"
	ForClient  Use = "client"
)

// Uses are all of them.
var Uses = []Use{ForProcess, ForServer, ForEtcd, ForClient}

func (u Use) usages() []x509.ExtKeyUsage {
	switch u {
	case ForServer:
		return []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}
	case ForClient:
		return []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth}
	}
	return []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth}
}

// StandardDays is how long a certificate is good for: browsers take no more
// than 398 days.
const StandardDays = 397

// least is what an authority must be good for to sign.
const least = 30 * 24 * time.Hour

// Request asks for a certificate.
type Request struct {
	Name  string   // names the files: "records"
	Hosts []string // names and addresses at which it is reached; a client's may be none
	For   Use
	Days  int // 0 is StandardDays, the most
}

// Issue signs a certificate for a new name and keeps it, with its key, below
// the directory of the authority.
func (a *Authority) Issue(r Request, now time.Time) (Issued, error) {
	if _, err := os.Lstat(a.pemFile(r.Name)); isName(r.Name) && err == nil {
		return Issued{}, fault.New(fault.AlreadyExists, "NAME_TAKEN", "There is a certificate for %s already: \"halfshaft certs renew %s\" makes its next.", r.Name, r.Name)
	}
	return a.sign(r, now, "")
}

// Renew signs the next certificate for a name, with a new key, for the same
// hosts and use. It takes the place of the former, which stays good to its end.
func (a *Authority) Renew(name string, days int, now time.Time) (Issued, error) {
	former, err := Newest(a.dir, name)
	if err != nil {
		return Issued{}, err
	}
	return a.sign(Request{Name: name, Hosts: former.Hosts, For: former.For, Days: days}, now, former.Serial)
}

// sign makes key and certificate, notes them, and puts the files in place. The
// note comes first: what may be out there is on record.
func (a *Authority) sign(r Request, now time.Time, renews string) (Issued, error) {
	now = now.UTC().Truncate(time.Second) // as certificates are
	template, err := a.template(r, now)
	if err != nil {
		return Issued{}, err
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return Issued{}, err
	}
	der, err := x509.CreateCertificate(rand.Reader, template, a.cert, &key.PublicKey, a.key)
	if err != nil {
		return Issued{}, err
	}
	made := Issued{
		Name: r.Name, For: r.For, Hosts: slices.Clone(r.Hosts), Serial: fmt.Sprintf("%032x", template.SerialNumber),
		Begins: template.NotBefore, Ends: template.NotAfter, Made: now, Renews: renews,
	}
	if err := a.place(made, key, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})); err != nil {
		return Issued{}, fmt.Errorf("keep the certificate for %s: %w", r.Name, err)
	}
	return made, nil
}

func (a *Authority) template(r Request, now time.Time) (*x509.Certificate, error) {
	if r.Days == 0 {
		r.Days = StandardDays
	}
	var wrong []fault.Field
	bad := func(name, got, want string) { wrong = append(wrong, fault.Field{Name: name, Got: got, Want: want}) }
	if !isName(r.Name) {
		bad("name", r.Name, "small letters, digits and hyphens, as in records, up to 40")
	}
	if !slices.Contains(Uses, r.For) {
		bad("for", string(r.For), "process, server, etcd or client")
	}
	if len(r.Hosts) == 0 && r.For != ForClient {
		bad("host", "", "the names and addresses at which it is reached: what calls it compares them")
	}
	if r.Days < 1 || r.Days > StandardDays {
		bad("days", strconv.Itoa(r.Days), "1 to "+strconv.Itoa(StandardDays))
	}
	for _, h := range r.Hosts {
		if !isHost(h) {
			bad("host", h, "a name such as records.aldermoor.example, or an address such as 192.0.2.7, without a port")
		}
	}
	if len(wrong) > 0 {
		return nil, fault.InvalidFields(wrong)
	}
	if now.Add(least).After(a.cert.NotAfter) {
		return nil, fault.New(fault.FailedPrecondition, "AUTHORITY_ENDS",
			"The authority ends on %s, and with it all that it signs: make a new one.", day(a.cert.NotAfter))
	}
	serial, err := newSerial()
	if err != nil {
		return nil, err
	}
	t := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: r.Name},
		NotBefore: now.Add(-backdated), NotAfter: now.AddDate(0, 0, r.Days),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: r.For.usages(), BasicConstraintsValid: true,
	}
	if t.NotBefore.Before(a.cert.NotBefore) {
		t.NotBefore = a.cert.NotBefore
	}
	if t.NotAfter.After(a.cert.NotAfter) {
		t.NotAfter = a.cert.NotAfter
	}
	for _, h := range r.Hosts {
		if ip, err := netip.ParseAddr(h); err == nil {
			t.IPAddresses = append(t.IPAddresses, ip.AsSlice())
		} else {
			t.DNSNames = append(t.DNSNames, h)
		}
	}
	return t, nil
}

// place writes the note, then the key, then the certificate. Between the last
// two a process that looks keeps what it has (Keeper), because they do not
// belong together.
func (a *Authority) place(made Issued, key *ecdsa.PrivateKey, cert []byte) error {
	if err := os.MkdirAll(filepath.Join(a.dir, issuedDir), 0o700); err != nil {
		return err
	}
	newKey, newCert := a.keyFile(made.Name)+".new", a.pemFile(made.Name)+".new"
	for _, left := range []string{newKey, newCert} { // by one who was cut short
		if err := os.Remove(left); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	if err := writeKey(newKey, key); err != nil {
		return err
	}
	if err := writeNew(newCert, cert, 0o644); err != nil {
		return err
	}
	if err := a.note(made); err != nil {
		return err
	}
	if err := os.Rename(newKey, a.keyFile(made.Name)); err != nil {
		return err
	}
	if err := os.Rename(newCert, a.pemFile(made.Name)); err != nil {
		return err
	}
	return wholefile.SyncDir(filepath.Join(a.dir, issuedDir))
}

func (a *Authority) pemFile(name string) string {
	return filepath.Join(a.dir, issuedDir, name+".pem")
}

func (a *Authority) keyFile(name string) string {
	return filepath.Join(a.dir, issuedDir, name+".key")
}

// Files are the certificate for a name and its key, for --tls-cert and
// --tls-key.
func (a *Authority) Files(name string) (cert, key string) { return a.pemFile(name), a.keyFile(name) }

var (
	aName  = regexp.MustCompile(`^[a-z0-9](?:[a-z0-9-]{0,38}[a-z0-9])?$`)
	aLabel = regexp.MustCompile(`^[A-Za-z0-9](?:[A-Za-z0-9-]{0,61}[A-Za-z0-9])?$`)
)

func isName(s string) bool { return aName.MatchString(s) }

// isHost says whether a certificate can be for it: a name of RFC 1123, without
// stars, or an address without a zone.
func isHost(s string) bool {
	if ip, err := netip.ParseAddr(s); err == nil {
		return ip.Zone() == "" && !ip.IsUnspecified() && !ip.Is4In6()
	}
	labels := strings.Split(s, ".")
	if len(s) > 253 || !strings.ContainsFunc(labels[len(labels)-1], func(r rune) bool { return r < '0' || r > '9' }) {
		return false // all digits at the end is an address that is none
	}
	return !slices.ContainsFunc(labels, func(l string) bool { return !aLabel.MatchString(l) })
}

func isTitle(s string) bool {
	r := []rune(s)
	return len(r) > 0 && len(r) <= 64 && strings.TrimSpace(s) == s && strings.ToValidUTF8(s, "") == s &&
		!slices.ContainsFunc(r, func(r rune) bool { return r < ' ' || r == 0x7f })
}
