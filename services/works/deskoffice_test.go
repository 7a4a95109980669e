package works_test

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/internal/freeaddress"
	"halfshaft/services/works"
)

func TestTheOfficeSeesHowTheStoreIsAndNobodyElseDoes(t *testing.T) {
	data := t.TempDir()
	if err := os.MkdirAll(filepath.Join(data, "snapshots"), 0o700); err != nil {
		t.Fatal(err)
	}
	clock := atDemo()
	for name, size := range map[string]int{"2026-05-10.db": 3 << 20, "2026-05-14.db": 5 << 20} {
		if err := os.WriteFile(filepath.Join(data, "snapshots", name), make([]byte, size), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	process, ctx, clients := start(t, works.Config{Data: data, Desk: works.DeskConfig{Listen: freeaddress.For(t)}, Clock: clock.Now, Works: works.WorksConfig{Name: "Aldermoor Works"}})
	d := &deskWorld{clock, t, process, ctx, clients, process.DeskURL()}
	b, _ := d.admitted("ida", accessv1.Role_ROLE_ADMINISTRATOR)
	a, page := b.get("/works/health")
	if a.StatusCode != http.StatusOK {
		t.Fatalf("got %d: %s", a.StatusCode, page)
	}
	for _, want := range []string{"<dt>State</dt><dd>well</dd>", "14 May 2026, 5.0 MiB", "<dt>Kept</dt><dd>2</dd>", "No pass has run on any day yet", "Lines in the chain"} {
		if !strings.Contains(page, want) {
			t.Errorf("without %q: %s", want, page)
		}
	}
	engineer, _ := d.admitted("una", accessv1.Role_ROLE_ENGINEER)
	for _, path := range []string{"/works/health", "/works/imports"} {
		if a, page := engineer.get(path); a.StatusCode != http.StatusNotFound || strings.Contains(page, "store") {
			t.Errorf("an engineer at %s: %d", path, a.StatusCode)
		}
	}
}

// What is sent is no file, too much, or no form at all: told, and nothing more.
func TestAnUploadIsHeldToItsBounds(t *testing.T) {
	d := openDesk(t)
	b, _ := d.admitted("ida", accessv1.Role_ROLE_ADMINISTRATOR)
	send := func(name string, size int) (int, string) {
		var body bytes.Buffer
		w := multipart.NewWriter(&body)
		part, err := w.CreateFormFile("files", name)
		if err != nil {
			t.Fatal(err)
		}
		part.Write(bytes.Repeat([]byte("x"), size)) //nolint:errcheck // it is memory
		w.Close()                                   //nolint:errcheck // it is memory
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, b.url+"/works/imports", &body)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", w.FormDataContentType())
		a, page := b.do(r)
		return a.StatusCode, page
	}
	for _, c := range []struct {
		name string
		size int
		want string
	}{
		{"parts.csv", 17 << 20, "at most 16 MiB of files"},
		{"../../secrets/master.key", 1, "instead of “master.key”"},
		{".hidden.csv", 1, "instead of “.hidden.csv”"},
		{"prats.csv", 5, "prats.csv"}, // no table of that name
	} {
		if code, page := send(c.name, c.size); code != http.StatusUnprocessableEntity || !strings.Contains(page, c.want) {
			t.Errorf("%s of %d bytes: got %d, without %q: %.2000s", c.name, c.size, code, c.want, page)
		}
	}
	if code, page := send("parts.csv", 0); code != http.StatusOK || !strings.Contains(page, "There is no record in the files.") || strings.Contains(page, "Import 0") {
		t.Errorf("an empty file: got %d: %s", code, page)
	}
	if a, page := b.send("/works/imports", nil); a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, "files, chosen in the form") {
		t.Errorf("a form without files: got %d: %s", a.StatusCode, page)
	}
}
