package works

import (
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"halfshaft/services/internal/certificates"
)

// Authority is the certificate authority in a directory, for the command line.
type Authority struct {
	Dir  string
	Now  time.Time // by which certificates are made and judged
	JSON bool      // print that instead of sentences
	Out  io.Writer
}

// Create makes the authority.
func (a Authority) Create(name string) error {
	made, err := certificates.Create(a.Dir, name, a.Now)
	if err != nil {
		return err
	}
	file := certificates.CAFile(a.Dir)
	if a.JSON {
		return a.json(map[string]any{"certificate": file, "ends": made.Ends().UTC()})
	}
	_, err = fmt.Fprintf(a.Out, "The authority ends on %s. Give %s to every process (--peer-ca, --tls-ca, --etcd-ca). Whoever has the key beside it can be any of your services.\n",
		made.Ends().UTC().Format("2 January 2006"), file)
	return err
}

// Issue signs a certificate for a new name; days 0 is the most.
func (a Authority) Issue(name string, hosts []string, use string, days int) error {
	signing, err := certificates.Open(a.Dir)
	if err != nil {
		return err
	}
	made, err := signing.Issue(certificates.Request{Name: name, Hosts: hosts, For: certificates.Use(use), Days: days}, a.Now)
	if err != nil {
		return err
	}
	return a.signed(signing, made)
}

// Renew signs the next certificate for a name.
func (a Authority) Renew(name string, days int) error {
	signing, err := certificates.Open(a.Dir)
	if err != nil {
		return err
	}
	made, err := signing.Renew(name, days, a.Now)
	if err != nil {
		return err
	}
	return a.signed(signing, made)
}

// signed says what was signed and where it stands.
func (a Authority) signed(signing *certificates.Authority, made certificates.Issued) error {
	if a.JSON {
		return a.json(made)
	}
	cert, key := signing.Files(made.Name)
	_, err := fmt.Fprintf(a.Out, "%s\nPut %s, %s and %s where it runs. The user that it runs as reads the key, and nobody else.\n",
		made.Sentence(a.Now), cert, filepath.Base(key), filepath.Base(certificates.CAFile(a.Dir)))
	return err
}

// List says what was signed and when it ends.
func (a Authority) List() error {
	all, err := certificates.List(a.Dir)
	if err != nil {
		return err
	}
	if a.JSON {
		return a.json(all)
	}
	lines := certificates.Sentences(all, a.Now)
	if len(lines) == 0 {
		lines = []string{"This authority has signed nothing yet."}
	}
	for _, line := range lines {
		if _, err := fmt.Fprintln(a.Out, line); err != nil {
			return err
		}
	}
	return nil
}

// Show says what the newest certificate for a name is.
func (a Authority) Show(name string) error {
	shown, err := certificates.Newest(a.Dir, name)
	if err != nil {
		return err
	}
	if a.JSON {
		return a.json(shown)
	}
	_, err = fmt.Fprintf(a.Out, "%s\n%s\n", shown.Sentence(a.Now), shown.Particulars())
	return err
}

func (a Authority) json(v any) error {
	out := json.NewEncoder(a.Out)
	out.SetIndent("", "  ")
	return out.Encode(v)
}
