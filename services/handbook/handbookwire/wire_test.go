package handbookwire_test

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/handbook"
	"halfshaft/services/handbook/handbookwire"
	"halfshaft/services/internal/privacy/privacytest"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// The numbers of the tables and pictures are those of the protos, because they
// are converted as they are.
func TestTheKindsAreThoseOfTheProtos(t *testing.T) {
	for n, name := range handbookv1.ValuesKind_name {
		got := "VALUES_KIND_" + strings.ToUpper(strings.ReplaceAll(handbook.ValuesKind(n).String(), "-", "_"))
		if n != 0 && got != name {
			t.Errorf("table %d is %s, in the protos %s", n, got, name)
		}
	}
	if next := handbook.ValuesKind(len(handbookv1.ValuesKind_name)); next.Valid() {
		t.Errorf("%s is not in the protos", next)
	}
	for n, name := range handbookv1.PictureKind_name {
		got := "PICTURE_KIND_" + strings.ToUpper(strings.ReplaceAll(handbook.PictureKind(n).String(), "-", "_"))
		if n != 0 && got != name {
			t.Errorf("picture %d is %s, in the protos %s", n, got, name)
		}
	}
	for n, want := range map[handbook.ChangeKind]handbookv1.HandbookChangeKind{
		handbook.SectionAdded:   handbookv1.HandbookChangeKind_HANDBOOK_CHANGE_KIND_ADDED,
		handbook.SectionRemoved: handbookv1.HandbookChangeKind_HANDBOOK_CHANGE_KIND_REMOVED,
		handbook.SectionChanged: handbookv1.HandbookChangeKind_HANDBOOK_CHANGE_KIND_CHANGED,
	} {
		if handbookv1.HandbookChangeKind(n) != want {
			t.Errorf("change %d is %s", n, want)
		}
	}
}

// A book that is read and written is the same, whichever field it has.
func TestABookIsTheSameAfterBeingReadAndWritten(t *testing.T) {
	for variant := range 7 {
		p := &handbookv1.Book{}
		privacytest.Fill(p.ProtoReflect(), func(protoreflect.FieldDescriptor) string { return "x" }, func(fd protoreflect.FieldDescriptor) bool {
			o := fd.ContainingOneof()
			return o.Fields().Get(variant%o.Fields().Len()) == fd
		})
		p.Name, p.Etag = "books/small/versions/3", ""
		p.EffectiveDate.Year, p.EffectiveDate.Month, p.EffectiveDate.Day = 2026, 1, 31
		b, err := handbookwire.Book(p)
		if err != nil {
			t.Fatal(err)
		}
		got := handbookwire.BookProto(b)
		got.CreateTime = p.CreateTime
		if !proto.Equal(got, p) {
			t.Errorf("variant %d:\n got %v\nwant %v", variant, got, p)
		}
	}
}

func FuzzNames(f *testing.F) {
	for _, seed := range []string{"books/packhorse/versions/2", "vehicles/AM0147P/handbookIssues/3", "vehicles/AM0147P/handbookIssues/-", "vehicles/AM0147P/handbookIssues/preview", "books//versions/-", "books/a/versions/01"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, name string) {
		if id, n, err := handbookwire.BookID("name", name); err == nil && n != handbookwire.Latest && handbookwire.BookName(id, n) != name {
			t.Errorf("%q is the book %s", name, handbookwire.BookName(id, n))
		}
		serial, n, err := handbookwire.IssueID("name", name)
		if err != nil {
			return
		}
		if again, m, err := handbookwire.IssueID("name", handbookwire.IssueName(serial, max(n, 1))); err != nil || again != serial || m != max(n, 1) {
			t.Errorf("%q is %s %d, and that %s %d (%v)", name, serial, n, again, m, err)
		}
		if other, m, preview, err := handbookwire.DownloadID("name", name); err != nil || preview || other != serial || m != n {
			t.Errorf("%q is %s %d to a download", name, other, m)
		}
	})
}
