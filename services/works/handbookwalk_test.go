package works_test

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/freeaddress"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/telephone"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// As support does it, and then the owner: the handbook is asked for on the
// telephone, issued and sent at the desk, a mail comes out of a mail server, and
// what its link leads to is read and kept. What is kept is what the record says.
func TestAHandbookIsSentFromTheDeskAndKeptByItsOwner(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	for name, c := range map[string]struct {
		width    int64
		scheme   string
		scripts  bool
		language string
		says     map[string]string
	}{
		"without scripts, in English": {320, "light", false, "en-GB", map[string]string{
			"press": "Open the handbook", "title": "The handbook of AM0101G", "issue": "Issue 1, for the vehicle as it was on", "read": "Read it here", "a5": "A5: a small book for the door pocket", "first": "It is the first one"}},
		"with scripts, in German": {1280, "dark", true, "de-DE", map[string]string{
			"press": "Das Handbuch öffnen", "title": "Das Handbuch von AM0101G", "issue": "Ausgabe 1, für das Fahrzeug, wie es am", "read": "Hier lesen", "a5": "A5: ein kleines Buch für die Türtasche", "first": "Es ist die erste Ausgabe"}},
	} {
		t.Run(name, func(t *testing.T) {
			const serial = aldermoor.TourSerial
			data := t.TempDir()
			layDemo(t, data)
			clock, mails, pages := atDemo(), newFickleServer(t), freeaddress.For(t)
			offered := tellsOf(mails)
			process, ctx, clients := start(t, works.Config{
				Data: data, Clock: clock.Now, HTTP: pages, Desk: works.DeskConfig{Listen: freeaddress.For(t)},
				Works: works.WorksConfig{Name: "Aldermoor Works", Telephone: "+44 1632 960100", Mail: "care@aldermoor.example", PublicURL: "http://" + pages},
				Mail:  works.MailConfig{Server: mails.address, From: "Aldermoor Works <care@aldermoor.example>", Security: "plain"},
			})
			withBook(t, ctx, clients)
			d := &deskWorld{clock, t, process, ctx, clients, process.DeskURL()}
			owner, address := reader(t, d, serial, c.language)

			p := telephone.New(t, c.width, c.scheme)
			p.Name = fmt.Sprintf("handbook-%s", c.language)
			p.Scripts(c.scripts)
			d.enters(p, "bert", accessv1.Role_ROLE_SUPPORT)
			p.Open(d.url + "/vehicles/" + serial)
			p.Says("Handbook", "None was issued yet.")
			p.Press("Send the handbook")
			p.Says("No handbook was issued yet. Sending it issues the first one.", "It was sent to nobody yet.", "Which are in it, which are not, and why")
			p.Set("Send it to", owner)
			p.Set("By", "LETTER")
			p.Press("Send the handbook")
			p.Says("A letter cannot reach")
			p.Set("By", "MAIL")
			p.Enter("Why it is issued", "asked for by telephone")
			p.Press("Send the handbook")
			p.Says("The handbook is on its way.", "Issue 1", "Asked for by telephone", "Nothing has changed since issue 1")
			select {
			case to := <-offered:
				if to != address {
					t.Errorf("it went to somebody else")
				}
			case <-time.After(time.Minute):
				t.Fatal("no mail came")
			}
			pass(t, ctx, clients) // what is under way is finished by then
			p.Open(d.url + "/vehicles/" + serial + "/handbook")
			p.Says("Gone out on")
			kept := p.Keep("Issue 1, A5")
			record := issued(t, d, serial)
			sameAsRecord(t, "the desk's A5", record, "application/pdf", "A5", kept.Bytes)
			if kept.Name != serial+"-handbook-1-A5.pdf" {
				t.Errorf("it is kept as %q", kept.Name)
			}

			copies := mails.copies(address)
			if len(copies) != 1 {
				t.Fatalf("%d mails", len(copies))
			}
			shot(t, p.Name+".eml", copies[0])
			at := linkIn(t, copies[0], c.says["press"])
			o := telephone.New(t, 360, c.scheme)
			o.Name = p.Name + "-owner"
			o.Scripts(c.scripts)
			o.Open(at)
			o.Says(c.says["title"], c.says["issue"], c.says["first"])
			for paper, label := range map[string]string{"A5": c.says["a5"]} {
				file := o.Keep(label)
				sameAsRecord(t, "the owner's "+paper, record, "application/pdf", paper, file.Bytes)
				shot(t, p.Name+".pdf", file.Bytes)
			}
			o.Press(c.says["read"])
			o.Says(serial, "Contents")
			// The style sheet within the archived page holds under the policy.
			if width := telephone.Ask[string](o, `getComputedStyle(document.querySelector(".typeset")).maxWidth`); width != "768px" {
				t.Errorf("the page has lost its style: max-width is %s", width)
			}
		})
	}
}

// shot keeps a file for people to look at, where HALFSHAFT_SHOTS says.
func shot(t *testing.T, name string, content []byte) {
	t.Helper()
	if dir := os.Getenv("HALFSHAFT_SHOTS"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, name), content, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// reader is an owner of a vehicle who takes mail and reads a language.
func reader(t *testing.T, d *deskWorld, serial, language string) (person, address string) {
	t.Helper()
	ties, err := d.clients.Owners.ListTies(d.ctx, &ownerv1.ListTiesRequest{Parent: "vehicles/" + serial})
	if err != nil {
		t.Fatal(err)
	}
	for _, tie := range ties.GetTies() {
		p, err := d.clients.Owners.GetPerson(d.ctx, &ownerv1.GetPersonRequest{Name: tie.GetPerson()})
		if err != nil {
			t.Fatal(err)
		}
		if tie.GetEndDate() != nil || tie.GetRole() != ownerv1.Role_ROLE_OWNER || p.GetEmail() == "" {
			continue
		}
		p.Language, p.FormatLocale = language, language
		if _, err := d.clients.Owners.UpdatePerson(d.ctx, &ownerv1.UpdatePersonRequest{Person: p}); err != nil {
			t.Fatal(err)
		}
		return p.GetName(), p.GetEmail()
	}
	t.Fatalf("nobody who owns %s takes mail", serial)
	return "", ""
}

func issued(t *testing.T, d *deskWorld, serial string) *handbookv1.HandbookIssue {
	t.Helper()
	i, err := d.clients.Handbooks.GetHandbookIssue(d.ctx, &handbookv1.GetHandbookIssueRequest{Name: "vehicles/" + serial + "/handbookIssues/-"})
	if err != nil {
		t.Fatal(err)
	}
	return i
}

// sameAsRecord fails unless bytes have the hash that the record of an issue says.
func sameAsRecord(t *testing.T, what string, record *handbookv1.HandbookIssue, mediaType, paper string, content []byte) {
	t.Helper()
	sum := sha256.Sum256(content)
	for _, f := range record.GetFiles() {
		if f.GetMediaType() == mediaType && f.GetPaper() == paper {
			if got := hex.EncodeToString(sum[:]); got != f.GetSha256() {
				t.Errorf("%s: %d bytes with the hash %s, and the record says %s", what, len(content), got, f.GetSha256())
			}
			return
		}
	}
	t.Errorf("%s: the record has no such file", what)
}
