package exchangerun

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"

	"google.golang.org/protobuf/proto"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/exchange"
	"halfshaft/services/exchange/exchangefile"
	"halfshaft/services/internal/page"
)

// booksPage is how many issues a page has: each has up to some hundred sentences.
const booksPage = 10

// books gives the versions of all books, whole.
func (c Clients) books(ctx context.Context, take func(*handbookv1.Book) error) error {
	return page.Each(func(token string) ([]*handbookv1.Book, string, error) {
		r, err := c.Handbooks.ListBooks(ctx, &handbookv1.ListBooksRequest{PageSize: recordsPage, PageToken: token})
		return r.GetBooks(), r.GetNextPageToken(), err
	}, func(named *handbookv1.Book) error {
		b, err := c.Handbooks.GetBook(ctx, &handbookv1.GetBookRequest{Name: named.GetName()})
		if err != nil {
			return err
		}
		return take(b)
	})
}

// handbookIssues gives the issues of a vehicle, the first one first.
func (c Clients) handbookIssues(ctx context.Context, serial string, take func(*handbookv1.HandbookIssue) error) error {
	all, err := page.All(func(token string) ([]*handbookv1.HandbookIssue, string, error) {
		r, err := c.Handbooks.ListHandbookIssues(ctx, &handbookv1.ListHandbookIssuesRequest{Parent: "vehicles/" + serial, PageSize: booksPage, PageToken: token})
		return r.GetHandbookIssues(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	for _, i := range slices.Backward(all) {
		if err := take(i); err != nil {
			return err
		}
	}
	return nil
}

// handbookFile gives the bytes of a file of an issue.
func (c Clients) handbookFile(ctx context.Context, issue string, f *handbookv1.HandbookFile) ([]byte, error) {
	stream, err := c.Handbooks.DownloadHandbook(ctx, &handbookv1.DownloadHandbookRequest{Name: issue, MediaType: f.GetMediaType(), Paper: f.GetPaper()})
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
			return nil, fmt.Errorf("fetch %s %s of %s: %w", f.GetMediaType(), f.GetPaper(), issue, err)
		}
		content = append(content, chunk.GetData()...)
	}
}

// exportHandbooks writes books, issues, and the files of issues.
func exportHandbooks(ctx context.Context, c Clients, serials []string, write func(proto.Message) error, keep func(*handbookv1.HandbookFile, []byte) error) error {
	if err := forward(ctx, c.books, write); err != nil {
		return err
	}
	for _, serial := range serials {
		err := c.handbookIssues(ctx, serial, func(i *handbookv1.HandbookIssue) error {
			for _, f := range i.GetFiles() {
				content, err := c.handbookFile(ctx, i.GetName(), f)
				if err != nil {
					return err
				}
				if err := keep(f, content); err != nil {
					return err
				}
			}
			return write(i)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// meetHandbooks asks for the books and issues where the import speaks of any.
func (r *importRun) meetHandbooks(ctx context.Context, met func(proto.Message) error) error {
	issues := r.collection.Drafts(&exchange.HandbookIssues.Table)
	if len(issues)+len(r.collection.Drafts(&exchange.Books.Table)) == 0 {
		return nil
	}
	if err := forward(ctx, r.clients.books, met); err != nil {
		return err
	}
	serials := map[string]bool{}
	for _, d := range issues {
		serials[serialOf(d.Name)] = true
	}
	for _, serial := range slices.Sorted(maps.Keys(serials)) {
		if err := ignoreMissing(r.clients.handbookIssues(ctx, serial, func(i *handbookv1.HandbookIssue) error { return met(i) })); err != nil {
			return err
		}
	}
	return nil
}

// keepHandbooks hands over the files of the issues that are to be imported. One
// that is not beside the import may be there already: the service knows, and
// refuses the issue where it is not.
func (r *importRun) keepHandbooks(ctx context.Context) error {
	for _, d := range r.collection.Pending(exchange.Handbook) {
		i, ok := r.collection.Message(d).(*handbookv1.HandbookIssue)
		if !ok {
			continue
		}
		for _, f := range i.GetFiles() {
			content, err := exchangefile.HandbookFile(r.paths, f)
			if err != nil {
				return err
			}
			if content == nil {
				continue
			}
			if _, err := r.clients.Handbooks.KeepHandbookFile(ctx, &handbookv1.KeepHandbookFileRequest{Data: content}); err != nil {
				return fmt.Errorf("hand over a file of %s: %w", d.Name, err)
			}
		}
	}
	return nil
}
