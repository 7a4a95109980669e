package handbookrpc

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"

	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/fault"
	"halfshaft/services/handbook"
	"halfshaft/services/handbook/handbookprint"
	"halfshaft/services/handbook/handbookwire"
	"halfshaft/services/internal/typeset"
)

// The forms of a handbook.
const (
	asPDF  = "application/pdf"
	asHTML = "text/html"
	asJSON = "application/json"
)

// papers are those that an issue is kept on, by the names of requests.
var papers = []typeset.Paper{typeset.A5, typeset.A4, typeset.USLetter}

// render makes one form of a handbook.
func render(h *handbook.Handbook, e handbookprint.Edition, mediaType, paper string) ([]byte, *handbookv1.HandbookFile, error) {
	var content []byte
	var err error
	f := &handbookv1.HandbookFile{MediaType: mediaType}
	switch mediaType {
	case asJSON:
		content, err = json.MarshalIndent(h, "", " ")
	case asHTML:
		content, err = handbookprint.HTML(h, e)
	default:
		content, err = typeset.PDF(handbookprint.Document(h, e), typeset.Print{Paper: typeset.Paper(paper), Duplex: true})
		f.Paper, f.PageCount = paper, int32(handbookprint.PageCount(content))
	}
	if err != nil {
		return nil, nil, fmt.Errorf("set a handbook: %w", err)
	}
	sum := sha256.Sum256(content)
	f.Sha256, f.SizeBytes = hex.EncodeToString(sum[:]), int64(len(content))
	return content, f, nil
}

// keep makes and keeps all forms of an issue, side by side: setting one takes a
// part of a second.
func (s *Service) keep(d *draft, e handbookprint.Edition) ([]*handbookv1.HandbookFile, error) {
	var forms []form
	for _, p := range papers {
		forms = append(forms, form{asPDF, string(p)})
	}
	forms = append(forms, form{asHTML, ""}, form{asJSON, ""})
	files := make([]*handbookv1.HandbookFile, len(forms))
	var making errgroup.Group
	for i, one := range forms {
		making.Go(func() error {
			content, f, err := render(&d.Handbook, e, one.mediaType, one.paper)
			if err != nil {
				return err
			}
			files[i] = f
			_, err = s.store.Keep(content)
			return err
		})
	}
	return files, making.Wait()
}

// form is a form of a handbook.
type form struct{ mediaType, paper string }

// fileOf finds a form among the files of an issue; nil when it has none.
func fileOf(files []*handbookv1.HandbookFile, mediaType, paper string) *handbookv1.HandbookFile {
	for _, f := range files {
		if f.GetMediaType() == mediaType && f.GetPaper() == paper {
			return f
		}
	}
	return nil
}

// chunkBytes is what one message of a download holds at most.
const chunkBytes = 64 << 10

// DownloadHandbook implements the HandbookService.
func (s *Service) DownloadHandbook(r *handbookv1.DownloadHandbookRequest, stream grpc.ServerStreamingServer[handbookv1.DownloadHandbookResponse]) error {
	mediaType, paper, err := formOf(r)
	if err != nil {
		return err
	}
	content, f, err := s.download(r, stream, mediaType, paper)
	if err != nil {
		return err
	}
	for first := true; first || len(content) > 0; first = false {
		n := min(len(content), chunkBytes)
		chunk := &handbookv1.DownloadHandbookResponse{Data: content[:n]}
		if first {
			chunk.File = f
		}
		if err := stream.Send(chunk); err != nil {
			return err
		}
		content = content[n:]
	}
	return nil
}

// download gives the bytes of an issue, or of the handbook as it would be now.
func (s *Service) download(r *handbookv1.DownloadHandbookRequest, stream grpc.ServerStream, mediaType, paper string) ([]byte, *handbookv1.HandbookFile, error) {
	serial, n, preview, err := handbookwire.DownloadID("name", r.GetName())
	if err != nil {
		return nil, nil, err
	}
	if !preview {
		i, err := s.store.Issue(serial, n)
		if err != nil {
			return nil, nil, err
		}
		f := fileOf(i.Message.GetFiles(), mediaType, paper)
		if f == nil {
			return nil, nil, fault.New(fault.NotFound, "HANDBOOK_FORM_NOT_FOUND", "This issue was not kept in that form.")
		}
		content, err := s.store.File(f.GetSha256())
		return content, f, err
	}
	d, err := s.draft(stream.Context(), serial, s.today())
	if err != nil {
		return nil, nil, err
	}
	if len(d.Problems) > 0 {
		return nil, nil, incomplete(d.Problems)
	}
	return render(&d.Handbook, d.edition(0, ""), mediaType, paper)
}

// formOf reads which form is asked for.
func formOf(r *handbookv1.DownloadHandbookRequest) (mediaType, paper string, err error) {
	var fields []fault.Field
	switch mediaType = r.GetMediaType(); mediaType {
	case "":
		mediaType = asPDF
	case asPDF, asHTML, asJSON:
	default:
		fields = append(fields, fault.Field{Name: "media_type", Got: mediaType, Want: asPDF + ", " + asHTML + " or " + asJSON})
	}
	switch paper = r.GetPaper(); {
	case mediaType != asPDF && paper != "":
		fields = append(fields, fault.Field{Name: "paper", Got: paper, Want: "nothing, unless it is a PDF"})
	case mediaType == asPDF && paper == "":
		paper = string(typeset.A5)
	case mediaType == asPDF && !isPaper(paper):
		fields = append(fields, fault.Field{Name: "paper", Got: paper, Want: "A5, A4 or Letter"})
	}
	if len(fields) > 0 {
		return "", "", fault.InvalidFields(fields)
	}
	return mediaType, paper, nil
}

func isPaper(name string) bool {
	for _, p := range papers {
		if string(p) == name {
			return true
		}
	}
	return false
}
