package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"testing"
	"time"

	"github.com/google/uuid"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// TestAnIssuedHandbookIsWholeAfterAKill kills a serving process while it issues
// handbooks. Every issue on record after the next start has all its files, as the
// record says; one that was answered is on record.
func TestAnIssuedHandbookIsWholeAfterAKill(t *testing.T) {
	data := demoData(t)
	if out, ok := halfshaft(t, data, "book", "import", "../../testdata/aldermoor/books/packhorse.v1.yaml"); !ok {
		t.Fatalf("the demo's book was refused:\n%s", out)
	}
	args := []string{"--date", aldermoor.Today.String(), "--works", "Aldermoor Works", "--telephone", "+44 1632 960100"}
	const parent = "vehicles/AM0147P"
	acknowledged := 0
	for round, pause := range []time.Duration{300, 1400, 900, 400, 600, 1300} {
		p := serve(t, data, args...)
		s := p.session(t)
		answered, first := make(chan int, 1), make(chan struct{})
		go func() { // issue after issue, until the process is gone
			n := 0
			for {
				if _, err := s.Handbooks.IssueHandbook(context.Background(), &handbookv1.IssueHandbookRequest{Parent: parent, RequestId: uuid.NewString()}); err != nil {
					break
				}
				if n++; n == 1 {
					close(first)
				}
			}
			answered <- n
		}()
		if round%2 == 1 { // every other kill comes after an answer, however slow the machine
			select {
			case <-first:
			case n := <-answered:
				t.Fatalf("refused after %d issues, before the kill", n)
			}
		}
		time.Sleep(pause * time.Millisecond) // the moment of the kill
		p.kill()
		acknowledged += <-answered
		s.Close()

		p = serve(t, data, args...)
		s = p.session(t)
		all, err := s.Handbooks.ListHandbookIssues(context.Background(), &handbookv1.ListHandbookIssuesRequest{Parent: parent, PageSize: 500})
		if err != nil {
			t.Fatal(err)
		}
		if n := len(all.GetHandbookIssues()); n < acknowledged {
			t.Fatalf("killed after %d ms: %d issues are on record, and %d were answered", pause, n, acknowledged)
		}
		for _, i := range all.GetHandbookIssues() {
			for _, f := range i.GetFiles() {
				if err := whole(s, i.GetName(), f); err != nil {
					t.Errorf("killed after %d ms: %s, %s %s: %v", pause, i.GetName(), f.GetMediaType(), f.GetPaper(), err)
				}
			}
		}
		s.Close()
		p.stop(t)
	}
	if acknowledged == 0 {
		t.Error("nothing was answered before a kill: the test shows nothing")
	}
	t.Logf("%d issues answered, all there and whole", acknowledged)
}

// whole says what is wrong with a file of an issue.
func whole(s *works.Session, issue string, f *handbookv1.HandbookFile) error {
	stream, err := s.Handbooks.DownloadHandbook(context.Background(), &handbookv1.DownloadHandbookRequest{Name: issue, MediaType: f.GetMediaType(), Paper: f.GetPaper()})
	if err != nil {
		return err
	}
	sum := sha256.New()
	for {
		chunk, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		sum.Write(chunk.GetData())
	}
	if hex.EncodeToString(sum.Sum(nil)) != f.GetSha256() {
		return errors.New("it is not what the record says")
	}
	return nil
}
