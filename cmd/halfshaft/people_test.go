package main

import "testing"

// TestPeopleReadLikeThis does everything that the desk does with people, on a
// works that nobody wrote to yet, and compares what is printed with
// testdata/people.golden.
func TestPeopleReadLikeThis(t *testing.T) {
	data := demoData(t)
	p := serve(t, data, "--date", "2026-05-18", "--public-url", "https://care.aldermoor.example")
	defer p.stop(t)
	d := newDesk(t, data)
	d.types(
		"people AM0101G", "people 'am 0115 4'", "people AM01074", "!people AM0101H", "!people p0001",
		"find wiesenthaler", "find harbour", "!find xx", "!find zzzz",
		"person show p0017", "!person show p9999",
		"person change p0001 --most 2 --hours 8-20 --by letter --by mail --language de --formats de-CH --unit km",
		"person change p0002 --died 2026-05-01 --phone -",
		"!person change p0001 --hours 20-8", "!person change p0001 --hours night", "!person change p0001 --email nonsense",
		"!person change p0001 --by pigeon", "!person change p0001 --died 2026-02-30",
		"consent p0001", "consent p0001 year-letter --wording 'Yes, once a year.' --source paper",
		"consent p0001 service --refused --by text --wording 'Not on the telephone.'", "consent p0001",
		"!consent p0001 safety --refused", "!consent p0001 sometimes", "!consent p0001 year-letter --source pigeon", "!consent p9999 year-letter --wording Yes",
		"transfer list AM0103C", "transfer offer AM0103C p0003", "transfer list AM0103C", "!transfer offer AM0103C p0001",
		"transfer cancel {transfers}", "!transfer cancel {transfers}", "transfer list AM0103C",
		"transfer record AM0103C --name 'Ursula Newcomer' --email ursula@newcomer.example --unit mi --zone Europe/London --on 2026-05-04 --evidence 'bill of sale, file 2026/114'",
		"transfer list AM0103C", "people AM0103C",
		"transfer record AM0104A --unknown --evidence 'returned letter, file 2026/115'", "people AM0104A",
		"!transfer record AM0101G --evidence 'a call'", "!transfer record AM0101G --to p9999 --evidence 'a call'",
		"!transfer record AM0101G --to p0002 --unknown --evidence 'a call'",
		"standing AM0143X", "standing AM0101G", "standing AM01058 exported --since 2026-05-02 --note 'customs papers, file 2026/9'",
		"standing AM01058 in-use --note 'it came back'", "!standing AM01058 lost", "!standing AM01058 scrapped --since 2027-01-01",
		"!document people/p0001/documents/none none.jpg",
		"person links p0001", "!person links p9999",
		"!person erase p0013 --ground 'asked for on 18 May 2026'", "person erase p0013 --ground 'asked for on 18 May 2026' --end-ties",
		"!person show p0013", "person erasures", "people AM01138", "tasks",
	)
	likeFile(t, "testdata/people.golden", d.script.String())
}
