package works_test

import (
	"bytes"
	"fmt"
	"mime/multipart"
	"net/http"
	"net/textproto"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/internal/racetest"
)

// A folder comes in with its folders, and what was looked at waits for whoever sent
// it over a restart.
func TestAFolderIsImportedAtTheDeskAlsoAfterARestart(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	data := t.TempDir()
	var b *browserOf
	var offered string
	t.Run("looked at", func(t *testing.T) {
		d := openDeskOver(t, data)
		b, _ = d.admitted("ida", accessv1.Role_ROLE_ADMINISTRATOR)
		a, page := b.sendFolder(t, map[string]string{
			"export/tables/parts.csv": "part,title,status\nZZ-1,Bolt,orderable\n", "export/handbook_files/" + strings.Repeat("ab", 32) + ".pdf": "%PDF", "export/.DS_Store": "x",
		})
		found := regexp.MustCompile(`action="(/works/imports/[0-9a-f]{64})"`).FindStringSubmatch(page)
		if a.StatusCode != http.StatusOK || found == nil || !strings.Contains(page, "tables/parts.csv") {
			t.Fatalf("got %d: %s", a.StatusCode, page)
		}
		offered = found[1]
		if a, page := b.sendFolder(t, map[string]string{"export/../../parts.csv": "x"}); a.StatusCode != http.StatusUnprocessableEntity {
			t.Errorf("a way out: got %d: %s", a.StatusCode, page)
		}
	})
	t.Run("imported after a restart", func(t *testing.T) {
		d := openDeskOver(t, data)
		b.t, b.url = t, d.url
		if a, page := b.send(offered, nil); a.StatusCode != http.StatusOK || !strings.Contains(page, "1 record written") {
			t.Fatalf("got %d: %s", a.StatusCode, page)
		}
		if _, err := d.clients.Parts.GetPart(d.ctx, &partsv1.GetPartRequest{Name: "parts/ZZ-1"}); err != nil {
			t.Error(err)
		}
		if left, err := filepath.Glob(filepath.Join(data, "run", "waiting", "*")); err != nil || len(left) != 0 {
			t.Errorf("it waits still: %v, %v", left, err)
		}
	})
}

// sendFolder sends files as a browser sends a chosen folder.
func (b *browserOf) sendFolder(t *testing.T, files map[string]string) (*http.Response, string) {
	t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for name, text := range files {
		part, err := w.CreatePart(textproto.MIMEHeader{"Content-Disposition": {fmt.Sprintf(`form-data; name="folder"; filename="%s"`, name)}, "Content-Type": {"application/octet-stream"}})
		if err != nil {
			t.Fatal(err)
		}
		part.Write([]byte(text)) //nolint:errcheck // it is memory
	}
	w.Close() //nolint:errcheck // it is memory
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, b.url+"/works/imports", &body)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", w.FormDataContentType())
	return b.do(r)
}
