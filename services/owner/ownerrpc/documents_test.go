package ownerrpc_test

import (
	"bytes"
	"image/png"
	"testing"

	"google.golang.org/grpc/codes"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/etcdtest"
)

func TestNobodyFillsTheDiskWithPhotographs(t *testing.T) {
	h := open(t, etcdtest.Client(t), keyFile(t))
	h.create(t, "p1")
	h.create(t, "p2")
	vehicle := "vehicles/" + serial(t, "AM0147")
	for _, p := range []string{"p1", "p2"} {
		h.tie(t, vehicle[len("vehicles/"):], p, ownerv1.Role_ROLE_CARETAKER, day(2020, 6, 1))
	}
	store := func(person string, n int) error {
		var file bytes.Buffer
		if err := png.Encode(&file, photo(8+n, 8)); err != nil { // each another picture
			t.Fatal(err)
		}
		ctx, own := h.owner("people/" + person)
		_, err := own.StoreDocument(ctx, &ownerv1.StoreDocumentRequest{
			Parent: "people/" + person, Document: &ownerv1.Document{Vehicle: vehicle, Title: "odometer"}, Content: file.Bytes(),
		})
		return err
	}
	for n := range 200 {
		if err := store("p1", n); err != nil {
			t.Fatalf("picture %d: %v", n+1, err)
		}
	}
	wantReason(t, store("p1", 200), codes.FailedPrecondition, "TOO_MANY_DOCUMENTS")
	if err := store("p2", 0); err != nil {
		t.Errorf("somebody else's: %v", err)
	}
}
