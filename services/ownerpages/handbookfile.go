package ownerpages

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/links"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/internal/webguard"
)

// handbookFile gives a file of an issue as it was issued: "handbook.html" to be
// read, "A5.pdf" and its like to be kept. Only a link to the handbook opens it.
func (p *pages) handbookFile(w http.ResponseWriter, r *http.Request) {
	v, ok := p.visit(w, r)
	if !ok {
		return
	}
	if v.link.Purpose != links.Handbook {
		v.dead(w, r)
		return
	}
	n, err := strconv.Atoi(r.PathValue("issue"))
	ask := &handbookv1.DownloadHandbookRequest{Name: fmt.Sprintf("%s/handbookIssues/%d", v.vehicle, n), MediaType: "text/html"}
	name := fmt.Sprintf("%s-handbook-%d.html", v.target.Serial, n)
	if file := r.PathValue("file"); file != "handbook.html" {
		paper, isPDF := strings.CutSuffix(file, ".pdf")
		known := false
		for _, of := range handbookPapers {
			known = known || of.paper == paper
		}
		if !isPDF || !known {
			n = 0
		}
		ask.MediaType, ask.Paper = "application/pdf", paper
		name = fmt.Sprintf("%s-handbook-%d-%s.pdf", v.target.Serial, n, paper)
	}
	if err != nil || n < 1 || n > 9999 {
		v.message(http.StatusNotFound, "nowhere")
		return
	}
	content, err := v.download(ask)
	if gone(err) {
		v.message(http.StatusNotFound, "nowhere")
		return
	}
	if err != nil {
		v.failed(err)
		return
	}
	webguard.Archived{Name: name, MediaType: ask.GetMediaType(), Bytes: content}.Serve(w, r)
}

// gone reports whether there is no such issue for the person.
func gone(err error) bool { return err != nil && rpcerr.FromStatus(err).Kind == fault.NotFound }

// download reads all of a file.
func (v *visit) download(ask *handbookv1.DownloadHandbookRequest) ([]byte, error) {
	stream, err := v.Handbooks.DownloadHandbook(v.owner(), ask)
	if err != nil {
		return nil, err
	}
	var content []byte
	for {
		chunk, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return content, nil
		}
		if err != nil {
			return nil, err
		}
		content = append(content, chunk.GetData()...)
	}
}
