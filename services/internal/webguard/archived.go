package webguard

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"mime"
	"net/http"
	"strings"
	"time"
)

// Archived is a file that is served as it was issued, byte for byte.
type Archived struct {
	Name      string // under which a browser keeps it: "AM0147P-handbook-3-A5.pdf"
	MediaType string // "application/pdf" or "text/html"
	Bytes     []byte
}

// Serve answers with the file. A page is shown, under a policy that lets the style
// sheets within it pass by their hashes and loads nothing: the page stands by
// itself. Anything else is offered to be kept.
func (a Archived) Serve(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	kind, disposition := a.MediaType, "attachment"
	if a.MediaType == "text/html" {
		kind, disposition = "text/html; charset=utf-8", "inline"
		h.Set("Content-Security-Policy", archivedPolicy(a.Bytes))
	}
	h.Set("Content-Type", kind)
	h.Set("Content-Disposition", mime.FormatMediaType(disposition, map[string]string{"filename": a.Name}))
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(a.Bytes))
}

// mostSheets bounds the style sheets of a page that are let pass, and with them
// the length of the header. A page of ours has one.
const mostSheets = 4

// archivedPolicy is the policy of a page of ours with style sheets in it. A script
// or a form in it would do nothing, and nobody has it in a frame.
func archivedPolicy(page []byte) string {
	parts := []string{"default-src 'none'"}
	var hashes []string
	for rest := page; len(hashes) < mostSheets; {
		_, after, found := bytes.Cut(rest, []byte("<style>"))
		sheet, next, closed := bytes.Cut(after, []byte("</style>"))
		if !found || !closed {
			break
		}
		sum := sha256.Sum256(sheet)
		hashes, rest = append(hashes, "'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'"), next
	}
	if len(hashes) > 0 {
		parts = append(parts, "style-src "+strings.Join(hashes, " "))
	}
	return strings.Join(append(parts, "form-action 'none'", "frame-ancestors 'none'", "base-uri 'none'"), "; ")
}
