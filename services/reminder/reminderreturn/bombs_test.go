package reminderreturn

import (
	"bytes"
	"encoding/base64"
	"runtime"
	"strings"
	"testing"
)

// TestABombTakesLittleMemory: messages as long as they may be, made to become
// much when they are taken apart. The bound is loose: it catches what grows with
// the square of a message, or without end. The heap grows by 64 MiB at a time on
// the systems that we run on, and by a little more where it was not empty.
func TestABombTakesLittleMemory(t *testing.T) {
	full := func(head, unit string) []byte {
		return append([]byte(head), bytes.Repeat([]byte(unit), (MostBytes-len(head))/len(unit))...)
	}
	const parts = "From: a@b.example\r\nContent-Type: multipart/mixed; boundary=b\r\n\r\n"
	const status = "From: a@b.example\r\nContent-Type: multipart/report; boundary=b\r\n\r\n--b\r\nContent-Type: message/delivery-status\r\n\r\n"
	for _, c := range []struct {
		name    string
		message []byte
	}{
		{"parts in parts without an end", full("From: a@b.example\r\n", "Content-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\n")},
		{"a hundred thousand parts", full(parts, "--b\r\n\r\n\r\n")},
		{"a head of one field", full("Subject: ", "x")},
		{"a head of many fields", full("", "A: b\r\n")},
		{"recipients without an end", full(status, "Final-Recipient: rfc822; a@b\r\nAction: failed\r\n\r\n")},
		{"groups of nothing", full(status, "\r\n")},
		{"a text in a coding", []byte("From: a@b.example\r\nContent-Transfer-Encoding: base64\r\n\r\n" + base64.StdEncoding.EncodeToString(bytes.Repeat([]byte("550 "), MostBytes/8)))},
		{"words of another character set", full("Subject: ", "=?utf-7?Q?+AAA-?= ")},
		{"a boundary as long as the message", []byte("Content-Type: multipart/mixed; boundary=" + strings.Repeat("b", MostBytes-100) + "\r\n\r\n--b")},
	} {
		t.Run(c.name, func(t *testing.T) {
			if len(c.message) > MostBytes {
				t.Fatalf("the bomb has %d bytes", len(c.message))
			}
			underMemory(t, 96, func() { _, _ = Parse(c.message) }) // whatever it is taken for
		})
	}
}

// underMemory runs f and wants the heap, with all that it held meanwhile, to
// grow by no more than so many MiB.
func underMemory(t *testing.T, mebibytes uint64, f func()) {
	t.Helper()
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	if grown := after.HeapSys - min(before.HeapSys, after.HeapSys); grown > mebibytes<<20 {
		t.Errorf("the heap grew by %d MiB, want at most %d", grown>>20, mebibytes)
	}
}
