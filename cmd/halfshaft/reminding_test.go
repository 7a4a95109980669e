package main

import (
	"os"
	"path/filepath"
	"testing"
)

// sending are the flags of a process that has a mail server and prints
// letters.
func sending(server *mailServer) []string {
	return []string{
		"--date", "2026-05-18", "--works", "Aldermoor Works", "--public-url", "https://care.aldermoor.example",
		"--smtp", server.address, "--smtp-security", "plain", "--mail-from", "Aldermoor Works <care@aldermoor.example>",
		"--letters", "--post", "1 Foundry Yard", "--post", "Fictionbury FB1 1AA",
	}
}

// TestRemindingReadsLikeThis does everything that the desk does with reminders,
// and compares what is printed with testdata/reminding.golden.
func TestRemindingReadsLikeThis(t *testing.T) {
	data, dir := demoData(t), t.TempDir()
	p := serve(t, data, sending(newMailServer(t))...)
	defer p.stop(t)
	d := newDesk(t, data, dir, "DIR")
	reply := filepath.Join(dir, "reply.eml")
	if err := os.WriteFile(reply, []byte("From: somebody@harbour.example\r\nSubject: hello\r\n\r\nHello.\r\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	d.types(
		"pending AM01082", "pending AM0139P", "pending AM0101G --on 2026-08-01", "!pending AM0101H", "!pending AM01082 --on 2026-05-01",
		"preview AM0129T", "preview AM01082 --by text", "preview AM0149L --out "+dir+"/letter.pdf",
		"preview AM0104A --purpose year-letter --on 2026-07-01", "preview AM0101G",
		"!preview AM0129T --by pigeon", "!preview AM0129T --purpose safety", "!preview AM0129T --person p9999", "!preview AM01330",
		"pass --days 7", "pass --dry-run", "!pass --on 2026-05-20", "!pass --dry-run --on 2026-05-01",
		"answer AM01082 booked 2026-06-01 E08 G01L --person p0008 --workshop 'Moor Garage'", "answer AM01082 done 2026-05-01 P01",
		"answer AM01082 snoozed 2026-06-10", "!answer AM01082 snoozed 2026-12-01 W03", "!answer AM01082 perhaps 2026-06-01", "!answer AM01082 booked 2026-06-01 Q9",
		"!answer AM01082 booked 2026-06-01 --person p9999", "!answer AM01082 booked soon", "answers AM01082", "pending AM01082",
		"answers --withdraw {answers}", "!answers --withdraw vehicles/AM01082/answers/none", "answers", "tasks",
		"stop AM0129T p0029", "!stop AM0129T p0001", "!stop AM0129T p0029 --purpose safety", "pending AM0129T",
		"stop AM0129T p0029 --purpose year-letter", "stop AM0129T p0029 --end", "!stop AM0129T p0029 --end",
		"cadence", "cadence routine --early 20 --second-overdue 0", "!cadence routine --early 500", "!cadence weekly",
		"calendar AM01082 p0008", "!calendar AM01082 p0001", "calendar AM01082 p0008 --end", "!calendar AM01082 p0008 --end",
		"pass", "pass --days 7", "notices AM0129T", "pass --dry-run --on 2026-05-19",
		"letters print "+dir+"/letters.pdf", "!letters print "+dir+"/letters.pdf", "!letters posted", "!letters posted --all {notices}", "!letters posted notices/none",
		"letters posted {notices}", "letters posted --all --on 2026-05-18", "letters posted --all", "letters print "+dir+"/more.pdf",
		"take-return returns+none@care.aldermoor.example --file "+reply,
	)
	likeFile(t, "testdata/reminding.golden", d.script.String())
	for _, name := range []string{"letter.pdf", "letters.pdf"} {
		if info, err := os.Stat(filepath.Join(dir, name)); err != nil || info.Mode().Perm() != 0o600 || info.Size() < 1000 {
			t.Errorf("%s: %v, %v", name, info, err)
		}
	}
}

// Nothing serves the data, and the command line knows neither a mail server nor
// the works.
func TestACommandLineWithoutSettingsSaysThatItSendsNothingAndStillShowsPreviews(t *testing.T) {
	d := newDesk(t, demoData(t))
	d.types("pending AM0129T", "pass --dry-run", "!pass", "preview AM0129T", "calendar AM0129T p0029")
	likeFile(t, "testdata/unset.golden", d.script.String())
}
