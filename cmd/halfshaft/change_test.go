package main

import (
	"regexp"
	"strings"
	"testing"
)

// TestEveryCommandThatChangesSomethingDoes runs each of them on the demo as a
// person at the desk would, one after the other, over a running server.
func TestEveryCommandThatChangesSomethingDoes(t *testing.T) {
	data := demoData(t)
	server := newMailServer(t)
	p := serve(t, data, "--date", "2026-05-18", "--smtp", server.address, "--smtp-security", "plain",
		"--mail-from", "Aldermoor Works <care@aldermoor.example>")
	must := func(want string, args ...string) string {
		t.Helper()
		out, ok := halfshaft(t, data, args...)
		if !ok || !strings.Contains(out, want) {
			t.Errorf("halfshaft %s: %v\n%s\nwant %q", strings.Join(args, " "), ok, out, want)
		}
		return out
	}
	must("counted", "record", "reading", "AM0101G", "7240")
	must("Engine oil and filter is due on 18 May 2027", "record", "service", "AM0101G", "--item", "E01",
		"--item", "T02=end-float:0.10mm", "--reading", "7241", "--part", "2xAP-1010", "--done-by", "a test")
	must("wading on 18 May 2026", "record", "event", "am 0101 g", "wading", "--reading", "7242")
	must("dust from 18 May 2026 until further notice", "record", "use", "AM0101G", "dust")

	doubtful := regexp.MustCompile(`vehicles/AM01138/readings/\S+`).FindString(must("doubtful", "readings", "AM01138"))
	must("counted", "settle", doubtful, "rolled-over", "--reason", "the owner saw it go round")

	must("sent", "pass")
	task := regexp.MustCompile(`tasks/[\w.-]+`).FindString(strings.Join(strings.Fields(must("AM01330", "tasks")), ""))
	must("is done", "tasks", "--done", task, "--outcome", "found the buyer")
	must("found the buyer", "tasks", "--all")
	if out, ok := halfshaft(t, data, "tasks", "--done", "tasks/none", "--outcome", "x"); ok || !strings.Contains(out, "the name of a task") {
		t.Errorf("a task that is none: %v, %s", ok, out)
	}

	must("shown this once", "key", "create", "support", "front desk", "--title", "telephone")
	key := regexp.MustCompile(`keys/\w+`).FindString(must("front desk", "key", "list"))
	must("is revoked", "key", "revoke", key)
	p.stop(t)
}
