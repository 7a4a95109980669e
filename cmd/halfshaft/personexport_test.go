package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"image"
	"image/jpeg"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/testdata/aldermoor"
)

// TestEverythingAboutAPersonIsExportedAndNothingAboutAnybodyElse lets p0008 be
// told by mail, text message and letter, over some weeks, and do everything
// that leaves a trace; then reads the export file by file.
func TestEverythingAboutAPersonIsExportedAndNothingAboutAnybodyElse(t *testing.T) {
	data, dir := demoData(t), t.TempDir()
	gateway := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {}))
	defer gateway.Close()
	secret := filepath.Join(dir, "secret")
	if err := os.WriteFile(secret, []byte("whsec_YW4gaW52ZW50ZWQgc2VjcmV0IG9mIDMyIGJ5dGVzISEh\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	flags := append(sending(newMailServer(t)), "--text-gateway", gateway.URL, "--text-secret-file", secret, "--text-allow", "127.0.0.1")
	run := func(commands ...string) {
		t.Helper()
		for _, c := range commands {
			if out, ok := halfshaft(t, data, words(c)...); !ok {
				t.Fatalf("halfshaft %s:\n%s", c, out)
			}
		}
	}
	on := func(day string, commands ...string) {
		t.Helper()
		flags[1] = day
		p := serve(t, data, flags...)
		run(commands...)
		p.stop(t)
	}
	const person = "p0008"
	on("2026-05-18", "consent p0008 service --by text --wording 'Yes, by text.'", "pass",
		"enquiry add AM01082 'May I mix the oils?' --person p0008 --symptom 'oils that may meet' --answer 'Never those two.'",
		"enquiry add AM0129T 'Somebody else asks' --person p0029",
		"answer AM01082 booked 2026-05-20 E08 --person p0008 --workshop 'Moor Garage'",
		"person change p0008 --by text --by mail", "transfer offer AM01082 p0008", "calendar AM01082 p0008",
		"answer AM0129T booked 2026-05-20 S03 --person p0029 --workshop 'Somebody else'", "stop AM0129T p0029", "calendar AM0129T p0029")
	on("2026-06-09", "pass", "person change p0008 --by letter --by mail")
	on("2026-07-14", "pass", "stop AM01082 p0008 --purpose year-letter")
	flags[1] = "2026-07-15"
	p := serve(t, data, flags...)
	defer p.stop(t)
	photograph(t, p, person)
	photograph(t, p, "p0029")
	out := filepath.Join(dir, "export")
	run("person export p0008 " + out)
	if again, ok := halfshaft(t, data, "person", "export", person, out); ok || !strings.Contains(again, "is not an empty directory") {
		t.Errorf("into a directory that is full: %v, %s", ok, again)
	}
	if missing, ok := halfshaft(t, data, "person", "export", "p9999", filepath.Join(dir, "none")); ok {
		t.Errorf("of nobody: %s", missing)
	}

	files := exportedFiles(t, out)
	wantLists(t, files, map[string]int{
		"consents.json": 2, "ties.json": 1, "notices.json": 3, "answers.json": 1, "opt-outs.json": 1, "calendars.json": 1,
		"documents.json": 1, "transfers.json": 1, "enquiries.json": 1,
	})
	wantMessages(t, files)
	for _, want := range []struct{ file, text string }{
		{"README.txt", "Everything that is held about one person"}, {"person.json", `"silas.harrowgate@moor.example"`},
		{"consents.json", "Yes, by text."}, {"answers.json", "Moor Garage"}, {"enquiries.json", "May I mix the oils?"}, {"enquiries.json", "Never those two."}, {"opt-outs.json", "PURPOSE_YEAR_LETTER"},
		{"calendars.json", "vehicles/AM01082/calendarFeeds/p0008"}, {"documents.json", `"odometer"`}, {"transfers.json", `"people/p0008"`},
	} {
		if !bytes.Contains(files[want.file], []byte(want.text)) {
			t.Errorf("%s does not say %q:\n%s", want.file, want.text, files[want.file])
		}
	}
	wantNobodyElse(t, files, person)

	// The export of everything tells of the same messages, without their words.
	run("export " + filepath.Join(dir, "all"))
	history, err := os.ReadFile(filepath.Join(dir, "all", "history", "notices.jsonl"))
	if n := bytes.Count(history, []byte(`"person":"people/p0008"`)); err != nil || n != 3 || bytes.Contains(history, []byte("ealedBody")) {
		t.Errorf("history: %d notices to %s, want 3; %v\n%.2000s", n, person, err, history)
	}
}

// photograph stores a picture that a person sent.
func photograph(t *testing.T, p *process, person string) {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 64, 48)), nil); err != nil {
		t.Fatal(err)
	}
	_, err := p.session(t).Owners.StoreDocument(context.Background(), &ownerv1.StoreDocumentRequest{
		Parent: "people/" + person, Document: &ownerv1.Document{Vehicle: "vehicles/AM01082", Title: "odometer"}, Content: b.Bytes(), RequestId: uuid.NewString(),
	})
	if err != nil {
		t.Fatal(err)
	}
}

// exportedFiles reads an export, of which nobody but its owner may read a file.
func exportedFiles(t *testing.T, dir string) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		if info, err := d.Info(); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v, %v", path, info.Mode(), err)
		}
		name, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		files[name], err = os.ReadFile(path)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// wantLists wants JSON arrays of so many objects.
func wantLists(t *testing.T, files map[string][]byte, want map[string]int) {
	t.Helper()
	for name, n := range want {
		var list []map[string]any
		if err := json.Unmarshal(files[name], &list); err != nil || len(list) != n {
			t.Errorf("%s: %d objects, %v, want %d:\n%s", name, len(list), err, n, files[name])
		}
	}
	for name := range files {
		if _, known := want[name]; !known && !strings.Contains(name, "/") && name != "README.txt" && name != "person.json" {
			t.Errorf("%s was not expected:\n%s", name, files[name])
		}
	}
	if !json.Valid(files["person.json"]) {
		t.Errorf("person.json is not JSON:\n%s", files["person.json"])
	}
}

// wantMessages wants one message by each way and the
// photograph.
func wantMessages(t *testing.T, files map[string][]byte) {
	t.Helper()
	begin := map[string]string{
		"mail.p0008.eml": "Auto-Submitted:", "text.p0008.txt": "Aldermoor Works: AM01082", "letter.p0008.txt": "14 July 2026, AM01082\n", ".jpeg": "\xff\xd8\xff",
	}
	found := 0
	for name, content := range files {
		if !strings.Contains(name, "/") {
			continue
		}
		found++
		for ending, begins := range begin {
			if strings.HasSuffix(name, ending) {
				delete(begin, ending)
				if !bytes.HasPrefix(content, []byte(begins)) {
					t.Errorf("%s begins with %.40q, want %q", name, content, begins)
				}
			}
		}
	}
	if found != 4 || len(begin) > 0 {
		t.Errorf("%d messages and photographs, want 4; missing are %v", found, begin)
	}
}

// wantNobodyElse looks for everybody else's identifier, name, address and
// number, and for the works' people, in every file and in every name of one.
func wantNobodyElse(t *testing.T, files map[string][]byte, person string) {
	t.Helper()
	people, err := aldermoor.Files.Open("people.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer people.Close()
	rows, err := csv.NewReader(people).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := slices.IndexFunc(rows, func(row []string) bool { return row[0] == person })
	others := []string{"local operator", "Somebody else"}
	for i, row := range rows[1:] {
		for _, cell := range row[:4] { // id, name, mail, telephone
			if i+1 != at && cell != "" && !slices.Contains(rows[at], cell) {
				others = append(others, cell)
			}
		}
	}
	for name, content := range files {
		for _, other := range others {
			if strings.Contains(name, other) || bytes.Contains(content, []byte(other)) {
				t.Errorf("%s says %q", name, other)
			}
		}
	}
}
