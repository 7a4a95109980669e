package main

import (
	"strings"
	"testing"

	"halfshaft/testdata/aldermoor"
)

func TestASecondStartOnOneDirectorySaysSoAtOnce(t *testing.T) {
	data := t.TempDir()
	first := serve(t, data)
	second := launch(t, data, "serve", "--listen", "127.0.0.1:0", "--http", "")
	<-second.done
	if second.err == nil || !strings.Contains(second.out.String(), data) {
		t.Errorf("got %v and:\n%s\nwant a refusal that names the directory", second.err, second.out.String())
	}
	first.stop(t)
}

func TestTheAdministratorsKeyIsPrintedAtTheFirstStartOnly(t *testing.T) {
	data := t.TempDir()
	first := serve(t, data)
	_, rest, ok := strings.Cut(first.out.String(), "shown this once and kept nowhere:\n  ")
	if !ok {
		t.Fatalf("no key in:\n%s", first.out.String())
	}
	secret, _, _ := strings.Cut(rest, "\n")
	out, good := halfshaft(t, data, "whoami", "--server", first.address(t), "--api-key", secret)
	if !good || !strings.Contains(out, "administrator") {
		t.Errorf("with the key over TCP: %v, %q", good, out)
	}
	if out, good := halfshaft(t, data, "whoami", "--server", first.address(t)); good {
		t.Errorf("without a key over TCP: got %q, want a refusal", out)
	}
	if out, good := halfshaft(t, data, "whoami"); !good || !strings.Contains(out, "local operator") {
		t.Errorf("on the socket of the data directory: %v, %q", good, out)
	}
	first.stop(t)
	if second := serve(t, data); strings.Contains(second.out.String(), "administrator's key") {
		t.Errorf("a key at the second start:\n%s", second.out.String())
	}
}

func TestSupportAnswersFromTheCommandLineWithAndWithoutAServer(t *testing.T) {
	data := demoData(t)
	serial := aldermoor.TourSerial
	alone := map[string]string{}
	commands := [][]string{
		{"vehicle", strings.ToLower(serial)}, {"vehicle", serial, "--json"}, {"schedule", serial}, {"schedule", serial, "--why"},
		{"schedule", serial, "--json"}, {"part", serial, "engine"}, {"due", "--within", "60d"}, {"due", "--json"}, {"find", serial}, {"speed", serial},
	}
	for _, c := range commands {
		out, _ := halfshaft(t, data, c...)
		if strings.TrimSpace(out) == "" {
			t.Errorf("halfshaft %v printed nothing", c)
		}
		alone[strings.Join(c, " ")] = out
	}
	p := serve(t, data, "--date", "2026-05-18")
	for _, c := range commands {
		out, _ := halfshaft(t, data, c...)
		if out != alone[strings.Join(c, " ")] {
			t.Errorf("halfshaft %v: with a server it prints\n%s\nwithout\n%s", c, out, alone[strings.Join(c, " ")])
		}
	}
	p.stop(t)
}
