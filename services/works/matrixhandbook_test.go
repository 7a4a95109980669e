package works_test

import (
	"github.com/google/uuid"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
)

// handbook issues the handbook of a vehicle, from a small book that is entered with
// the first.
func (w *world) handbook(letter string) {
	w.t.Helper()
	engineer := w.as("engineer").Handbooks
	_, err := engineer.CreateBook(w.ctx, &handbookv1.CreateBookRequest{RequestId: uuid.NewString(), Book: &handbookv1.Book{
		Name: "books/small/versions/1", Title: "Handbook", Language: "en-GB", Sample: true, EffectiveDate: &date.Date{Year: 2008, Month: 1, Day: 1},
		Chapters: []*handbookv1.Chapter{{Title: "All", Sections: []*handbookv1.Section{{SectionId: "read-first", Title: "Read this first",
			Passages: []*handbookv1.Passage{{Passage: &handbookv1.Passage_Text{Text: "This is the book of {serial}."}}}}}}},
	}})
	if err != nil && status.Code(err) != codes.AlreadyExists {
		w.t.Fatal(err)
	}
	got(w.as("support").Handbooks.IssueHandbook(w.ctx, &handbookv1.IssueHandbookRequest{Parent: "vehicles/" + w.serials[letter], RequestId: uuid.NewString()}))(w.t)
}
