package desk

import (
	"testing"
	"time"
)

func TestFilesWaitForWhoSentThemAndNotForLong(t *testing.T) {
	var u uploads
	at := time.Date(2026, 5, 18, 9, 0, 0, 0, time.UTC)
	files := []Upload{{"parts.csv", []byte("part,title\n")}}
	name, err := u.keep("accounts/ida", files, at)
	if err != nil {
		t.Fatal(err)
	}
	if again, err := u.keep("accounts/ida", files, at.Add(time.Minute)); err != nil || again != name {
		t.Errorf("the same files sent again are %s, %v; want %s", again, err, name)
	}
	if other, err := u.keep("accounts/iva", files, at); err != nil || other == name {
		t.Errorf("somebody else's files go by the same name: %v", err)
	}
	if u.take(name, "accounts/iva", at.Add(time.Minute)) != nil {
		t.Error("somebody else is given them")
	}
	if got := u.take(name, "accounts/ida", at.Add(time.Minute)); len(got) != 1 || string(got[0].Bytes) != "part,title\n" {
		t.Errorf("got %v", got)
	}
	if u.take(name, "accounts/ida", at.Add(32*time.Minute)) != nil || len(u.of) != 0 {
		t.Error("they wait for ever")
	}
	// What waits is bounded, of everybody together.
	large := func(n int) []Upload { return []Upload{{string(rune('a'+n)) + ".csv", make([]byte, mostUpload-1)}} }
	for n := range mostUploaded / mostUpload {
		if _, err := u.keep("accounts/ida", large(n), at); err != nil {
			t.Fatalf("file %d: %v", n, err)
		}
	}
	if _, err := u.keep("accounts/ida", large(9), at); err == nil {
		t.Error("more waits than is bounded")
	}
	u.drop(name)
}
