package bulletinrpc_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/testing/protocmp"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/fault"
)

// However many bytes a character takes, a bulletin of the size that is said is kept,
// may be taken back with as long a reason, and comes back from an import.
func TestTheLargestBulletinIsKeptAndComesBack(t *testing.T) {
	w := start(t)
	long := strings.Repeat("🚙", 4000)
	b := ofLot("C-1")
	b.Fault, b.Consequence, b.Meanwhile, b.Caution = long, long, long, long
	b.Remedy = nil
	for i := range 8 {
		b.Remedy = append(b.Remedy, &bulletinv1.RemedyItem{ItemId: fmt.Sprintf("C%d", i+1), Title: "as below", Caution: long})
	}
	_, err := w.CreateBulletin(t.Context(), &bulletinv1.CreateBulletinRequest{Bulletin: b})
	if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); len(f.Fields) != 1 || f.Fields[0].Name != "bulletin" || f.Fields[0].Want != "at most 180 KiB" {
		t.Errorf("got %v", f.Fields)
	}
	b.Remedy = b.Remedy[:7]
	b = w.issued(t, b)
	must(w.WithdrawBulletin(t.Context(), &bulletinv1.WithdrawBulletinRequest{Name: b.GetName(), Etag: b.GetEtag(), Reason: long[:2000*len("🚙")]}))(t)
	want := w.recorded(t)
	to := start(t)
	must(to.imported(t, "one", want...))(t)
	if diff := cmp.Diff(want, to.recorded(t), protocmp.Transform()); diff != "" {
		t.Errorf("the bulletin did not come back as it was: %.2000s", diff)
	}
}
