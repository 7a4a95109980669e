package ownerpages

import (
	"context"
	"net/http"
	"strings"
	"time"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/photograph"
	"halfshaft/services/internal/rpcerr"
)

// A photograph takes memory twice: as it was sent, maxPhoto at most, from when
// its form is read until it is answered; and while it is drawn anew, some
// hundred megabytes. Both are bounded, apart from each other: a form over a
// poor line takes minutes, and nobody's drawing waits for that.
const (
	uploadsAtOnce  = 8
	picturesAtOnce = 1
	uploadWait     = 20 * time.Second // for another form to end
)

// admit lets few forms with a photograph be read at once. The form is not read
// before. leave is to be called when it is answered; ok is false when it is too
// busy here.
func (p *pages) admit(r *http.Request) (leave func(), ok bool) {
	ctx, stop := context.WithTimeout(r.Context(), uploadWait)
	defer stop()
	select {
	case p.uploads <- struct{}{}:
		return func() { <-p.uploads }, true
	case <-ctx.Done():
		return nil, false
	}
}

// keepPhoto stores the photograph that came with the form, if one did. said is
// the phrase that says what was wrong with it; the reading is kept all the
// same.
func (v *visit) keepPhoto() (name, said string) {
	switch {
	case v.form.tooLarge:
		return "", "photograph.large"
	case len(v.form.photo) == 0:
		return "", ""
	}
	drawn, err := v.drawn()
	if err != nil {
		return "", "photograph.unread"
	}
	kept, err := v.Owners.StoreDocument(v.owner(), &ownerv1.StoreDocumentRequest{
		Parent: v.person, Document: &ownerv1.Document{Vehicle: v.vehicle, Title: "odometer"}, Content: drawn,
		RequestId: second(v.form.request(), "photograph "+string(v.form.photo)), // another picture is another one
	})
	if err != nil {
		v.Logger.Error("a photograph could not be kept", "reason", rpcerr.FromStatus(err).Reason)
		return "", "photograph.failed"
	}
	return kept.GetName(), ""
}

// drawn draws the photograph anew from its pixels, so that it fits into a
// message and nothing goes on but what can be seen.
func (v *visit) drawn() ([]byte, error) {
	select {
	case v.pictures <- struct{}{}:
		defer func() { <-v.pictures }()
		return photograph.Redraw(v.form.photo)
	case <-v.r.Context().Done():
		return nil, v.r.Context().Err()
	}
}

// ownDocument passes the name of a document of this person, and nothing else.
func (v *visit) ownDocument(name string) string {
	if strings.HasPrefix(name, v.person+"/documents/") {
		return name
	}
	return ""
}
