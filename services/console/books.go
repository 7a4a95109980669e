package console

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"strings"

	"github.com/google/uuid"
	"google.golang.org/grpc"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
)

// received puts the chunks of a download together, and proves that they are the
// file that was announced.
func received(stream grpc.ServerStreamingClient[handbookv1.DownloadHandbookResponse]) ([]byte, *handbookv1.HandbookFile, error) {
	var content []byte
	var file *handbookv1.HandbookFile
	for {
		chunk, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, nil, err
		}
		if chunk.GetFile() != nil {
			file = chunk.GetFile()
		}
		content = append(content, chunk.GetData()...)
	}
	sum := sha256.Sum256(content)
	if hex.EncodeToString(sum[:]) != file.GetSha256() {
		return nil, nil, fault.New(fault.Internal, "HANDBOOK_DAMAGED", "the handbook did not arrive as it was sent: ask for it again")
	}
	return content, file, nil
}

// ImportBook enters a version of a book from YAML.
func (c *Console) ImportBook(ctx context.Context, text []byte) error { return c.book(ctx, text, false) }

// CheckBook says what is wrong with a book, all of it, and enters nothing.
func (c *Console) CheckBook(ctx context.Context, text []byte) error { return c.book(ctx, text, true) }

func (c *Console) book(ctx context.Context, text []byte, only bool) error {
	b := &handbookv1.Book{}
	if err := readYAML(text, b); err != nil {
		return err
	}
	m, err := c.Handbooks.CreateBook(ctx, &handbookv1.CreateBookRequest{Book: b, RequestId: uuid.NewString(), ValidateOnly: only})
	if err != nil {
		return err
	}
	return c.print(m, func(s *sheet) {
		if only {
			s.line("%s is right, and was not entered.", m.GetName())
			return
		}
		bookLine(s, m)
	})
}

func bookLine(s *sheet, b *handbookv1.Book) {
	text := b.GetName() + "  " + b.GetTitle() + ", from " + day(b.GetEffectiveDate())
	if len(b.GetReleases()) > 0 {
		text += ", for " + strings.Join(b.GetReleases(), ", ")
	}
	if b.GetSample() {
		text += "  (sample, to be signed by the works' engineer)"
	}
	s.line("%s", text)
}

// ListBooks prints every version of every book.
func (c *Console) ListBooks(ctx context.Context) error {
	all, err := page.All(func(token string) ([]*handbookv1.Book, string, error) {
		r, err := c.Handbooks.ListBooks(ctx, &handbookv1.ListBooksRequest{PageSize: 500, PageToken: token})
		return r.GetBooks(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) {
		for _, b := range all {
			bookLine(s, b)
		}
	})
}

// ShowBook prints which sections a version has, and for which vehicles each is.
func (c *Console) ShowBook(ctx context.Context, book string) error {
	name, version, found := strings.Cut(strings.TrimPrefix(book, "books/"), "/")
	if version = strings.TrimPrefix(version, "versions/"); !found || version == "" {
		version = "-"
	}
	b, err := c.Handbooks.GetBook(ctx, &handbookv1.GetBookRequest{Name: "books/" + name + "/versions/" + version})
	if err != nil {
		return err
	}
	return c.print(b, func(s *sheet) {
		bookLine(s, b)
		for i, chapter := range b.GetChapters() {
			s.line("%d  %s", i+1, chapter.GetTitle())
			for _, one := range chapter.GetSections() {
				s.line("     %s  %s", one.GetSectionId(), one.GetTitle())
				if one.GetAppliesWhen() != "" {
					s.text("       for: ", one.GetAppliesWhen())
				}
			}
		}
	})
}
