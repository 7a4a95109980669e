package desk

import (
	"errors"
	"io"
	"slices"
	"strings"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/internal/webguard"
)

// handbookFile gives one form of an issue as it was issued, or of the handbook as
// it would be now: "handbook.html" to be read, "A5.pdf" and its like to be printed.
func (v *visit) handbookFile() {
	issue, file := v.r.PathValue("issue"), v.r.PathValue("file")
	ask := &handbookv1.DownloadHandbookRequest{Name: v.vehicle() + "/handbookIssues/" + issue, MediaType: "text/html"}
	name := v.r.PathValue("serial") + "-handbook-" + issue
	switch paper, isPDF := strings.CutSuffix(file, ".pdf"); {
	case isPDF && slices.Contains(handbookPapers, paper):
		ask.MediaType, ask.Paper, name = "application/pdf", paper, name+"-"+file
	case file == "handbook.html":
		name += ".html"
	default:
		v.noPage()
		return
	}
	stream, err := v.d.Handbooks.DownloadHandbook(v.as(), ask)
	var content []byte
	for err == nil {
		var chunk *handbookv1.DownloadHandbookResponse
		if chunk, err = stream.Recv(); err == nil {
			content = append(content, chunk.GetData()...)
		}
	}
	if !errors.Is(err, io.EOF) {
		v.refuse(err)
		return
	}
	webguard.Archived{Name: name, MediaType: ask.GetMediaType(), Bytes: content}.Serve(v.w, v.r)
}
