package enquiryrpc

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/testing/protocmp"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/fault"
)

// However many bytes a character takes, what an enquiry may hold is kept, sealed or
// not, and goes into another store whole.
func TestAnEnquiryWithNoRoomLeftIsKeptAndComesBackFromAnImport(t *testing.T) {
	for sign, most := range map[string]int{"x": 40, "🚙": 9} {
		from := newWorks(t, "UTC")
		long := strings.Repeat(sign, 4000)
		for _, person := range []string{"", "people/p0031"} {
			e := from.created(t, func(r *enquiryv1.CreateEnquiryRequest) { r.Enquiry.Person, r.Enquiry.Question = person, long })
			for range most {
				if _, err := from.RecordAnswer(desk(t.Context()), &enquiryv1.RecordAnswerRequest{Name: e.GetName(), Answer: &enquiryv1.EnquiryAnswer{Text: long}}); err != nil {
					t.Fatal(err)
				}
			}
			_, err := from.RecordAnswer(desk(t.Context()), &enquiryv1.RecordAnswerRequest{Name: e.GetName(), Answer: &enquiryv1.EnquiryAnswer{Text: long}})
			if !fault.Is(err, fault.FailedPrecondition) {
				t.Errorf("%q: one answer more: %v", sign, err)
			}
		}
		want := from.recorded(t)
		to := newWorks(t, "UTC")
		for i, row := range want {
			if _, err := to.imported(t, "part"+string(rune('0'+i)), row); err != nil {
				t.Fatal(err)
			}
		}
		if diff := cmp.Diff(want, to.recorded(t), protocmp.Transform()); diff != "" {
			t.Errorf("%q: the enquiries did not come back as they were: %.2000s", sign, diff)
		}
	}
}
