package reminderletter

import (
	"bytes"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/fault"
	"halfshaft/services/internal/typeset"
	"halfshaft/services/reminder/reminderwords"
)

func itoa(n int) string { return strconv.Itoa(n) }

var works = reminderwords.Works{
	Name: "Aldermoor Works", From: "notices@aldermoor.example", ReplyTo: "works@aldermoor.example",
	Phone: "+44 1632 960100", Postal: []string{"1 Mill Lane", "Aldermoor"},
}

// addresses are invented.
var addresses = map[string][]string{
	"plain":   {"Ann Moller", "7 Harbour Street", "Saltcombe", "ZZ1 1ZZ"},
	"accents": {"Fru Åse Østergård", "Włóczęgów 12/3", "00-001 Łódź", "POLSKA"},
	"one":     {"Ann Moller"},
	"five":    {"Frau Dr. Jürgen Groß", "c/o Weiß", "Fährstraße 3", "12345 Nirgendwo", "GERMANY"},
	"six":     {"Ann Moller", "Flat 2", "The Old Boathouse", "7 Harbour Street", "Saltcombe", "UNITED KINGDOM"},
	"wide":    {"The Executors of the Late Wilhelmina Featherstonehaugh-Smythe", "Number 7, The Old Harbourmaster's Boathouse, Quay Street", "Saltcombe"},
}

func letterTo(to []string) Addressed {
	return Addressed{To: to, Reference: "k3vq2nbd5xw7ayo4ht6zrmcuje", Sheet: reminderwords.Sheet{
		Language: "en", Subject: "Service is due on AM0147P", Date: "1 May 2026", Serial: "AM0147P",
		Blocks: []reminderwords.Block{
			{Kind: reminderwords.Text, Text: "Good day,"},
			{Kind: reminderwords.Text, Text: "One item of the service programme is due."},
			{Kind: reminderwords.Section, Text: "Engine oil and filter"},
			{Kind: reminderwords.Strong, Text: "Due on 1 June 2026."},
			{Kind: reminderwords.Caution, Mark: "CAUTION:", Text: "Hot oil burns. Let the engine cool before the plug comes out, and keep the drained oil away from skin."},
			{Kind: reminderwords.List, Text: "To ask for:", Rows: []string{"1 oil filter, 4410-2", "1 sump plug washer, 4410-3"}},
			{Kind: reminderwords.Small, Text: "Local law and licensed practice go first."},
			{Kind: reminderwords.Link, Text: "Press here", Link: "https://aldermoor.example/s"},
		},
	}}
}

// longSheet has so many sections, each word of which is another.
func longSheet(sections int) reminderwords.Sheet {
	n := 0
	words := func(k int) string {
		var all []string
		for range k {
			n++
			all = append(all, "w"+itoa(n))
		}
		return strings.Join(all, " ")
	}
	s := reminderwords.Sheet{Language: "en", Subject: "Subject " + words(3), Date: "2026-05-01", Serial: "AM0147P"}
	for i := range sections {
		s.Blocks = append(s.Blocks,
			reminderwords.Block{Kind: reminderwords.Section, Text: "section" + itoa(i)},
			reminderwords.Block{Kind: reminderwords.Text, Text: words(10 + i)},
			reminderwords.Block{Kind: reminderwords.Caution, Mark: "CAUTION" + itoa(i), Text: words(25)},
			reminderwords.Block{Kind: reminderwords.List, Text: words(4), Rows: []string{words(3), words(40), words(1)}})
	}
	return s
}

func TestTheSameBatchGivesTheSameBytes(t *testing.T) {
	batch := []Addressed{letterTo(addresses["plain"]), letterTo(addresses["accents"])}
	batch[1].Sheet = longSheet(12)
	first, err := Print(Config{Works: works}, batch)
	if err != nil {
		t.Fatal(err)
	}
	for range 5 {
		again, err := Print(Config{Works: works}, batch)
		if err != nil || !bytes.Equal(first, again) {
			t.Fatalf("other bytes; %v", err)
		}
	}
}

func TestAnAddressThatDoesNotFitIsRefused(t *testing.T) {
	for name, c := range map[string]struct {
		paper Paper
		to    []string
	}{
		"no address":              {A4, nil},
		"blank lines":             {A4, []string{" ", "\n"}},
		"nine lines":              {A4, []string{"1", "2", "3", "4", "5", "6", "7", "8", "9"}},
		"six for the small field": {USLetter, addresses["six"]},
		"an endless line":         {A4, []string{strings.Repeat("Aldermoor ", 60)}},
	} {
		l := letterTo(c.to)
		for _, err := range []error{
			Check(Config{Paper: c.paper}, l),
			func() error {
				_, err := Print(Config{Paper: c.paper}, []Addressed{letterTo(addresses["plain"]), l})
				return err
			}(),
		} {
			if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "to: got") || strings.Contains(err.Error(), "Moller") {
				t.Errorf("%s: got %v", name, err)
			}
		}
	}
	if err := Check(Config{}, letterTo(addresses["six"])); err != nil {
		t.Error(err)
	}
	if _, err := Print(Config{Paper: "A5"}, nil); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "paper:") {
		t.Errorf("another paper: %v", err)
	}
}

func TestCharactersWithoutASignAreMarkedAndTold(t *testing.T) {
	l := letterTo([]string{"田中 Ann", "7 Harbour Street"})
	l.Sheet.Blocks = append(l.Sheet.Blocks, reminderwords.Block{Kind: reminderwords.Text, Text: "Ring 🔧, a\u200Db, e\u0301, 10\u202F000"})
	got, err := Unprintable(l)
	if err != nil || !slices.Equal(got, []rune{'中', '田', '🔧'}) {
		t.Errorf("got %q, %v", got, err)
	}
	has, err := hasGlyph()
	if err != nil {
		t.Fatal(err)
	}
	if out, _ := typeset.Printable("田中 Ann, e\u0301 a\u200Db 10\u202F000\x07", has); out != "□□ Ann, é ab 10\u00a0000" {
		t.Errorf("printed as %q", out)
	}
	if got, err := Unprintable(letterTo(addresses["accents"])); len(got) > 0 || err != nil {
		t.Errorf("got %q, %v", got, err)
	}
}

func TestTheFontsHaveTheLettersOfEurope(t *testing.T) {
	has, err := hasGlyph()
	if err != nil {
		t.Fatal(err)
	}
	// The letters of the official languages of the European Union, Norway,
	// Iceland, Serbia, Ukraine and Turkey beside a to z; from memory.
	const letters = "ÀÁÂÃÄÅÆÇÈÉÊËÌÍÎÏÐÑÒÓÔÕÖØÙÚÛÜÝÞßàáâãäåæçèéêëìíîïðñòóôõöøùúûüýþÿ" +
		"ĀāĂăĄąĆćĊċČčĎďĐđĒēĖėĘęĚěĞğĠġĢģĦħĪīĮįİıĶķĹĺĻļĽľŁłŃńŅņŇňŌōŐőŒœŔŕŘřŚśŞşŠšŢţŤťŪūŮůŰűŲųŴŵŶŷŸŹźŻżŽž" +
		"ΆΈΉΊΌΎΏΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩάέήίαβγδεζηθικλμνξοπρςστυφχψωόύώϊϋΐΰ" +
		"ЂЃЄЅІЇЈЉЊЋЌЎЏАБВГДЕЖЗИЙКЛМНОПРСТУФХЦЧШЩЪЫЬЭЮЯабвгдежзийклмнопрстуфхцчшщъыьэюяђѓєѕіїјљњћќўџҐґ" +
		"–—‘’‚“”„…•·§°±²³½×÷€£«»‹›□\u00a0−"
	for _, r := range letters {
		if !has(r) {
			t.Errorf("no sign for %c", r)
		}
	}
}

// widthOf measures as a typewriter does.
func widthOf(text string, s style) float64 { return float64(len([]rune(text))) * s.size * 0.2 }

func TestPagesAreBrokenWhereTheyMay(t *testing.T) {
	kinds := []string{
		reminderwords.Heading, reminderwords.Section, reminderwords.Text, reminderwords.Strong,
		reminderwords.Caution, reminderwords.List, reminderwords.Small, reminderwords.Link,
	}
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.StringMatching(`([a-z]{1,12} ){0,60}`)
		s := reminderwords.Sheet{Subject: "x " + words.Draw(t, "subject")}
		for range rapid.IntRange(0, 12).Draw(t, "blocks") {
			b := reminderwords.Block{Kind: rapid.SampledFrom(kinds).Draw(t, "kind"), Text: words.Draw(t, "text"), Mark: "!"}
			if b.Kind == reminderwords.List {
				b.Rows = rapid.SliceOfN(words, 0, 5).Draw(t, "rows")
			}
			s.Blocks = append(s.Blocks, b)
		}
		all := lines(s, 100, widthOf)
		first, others := rapid.Float64Range(20, 200).Draw(t, "first"), rapid.Float64Range(60, 250).Draw(t, "others")
		out := pages(all, first, others)
		if flat := slices.Concat(out...); !slices.Equal(flat, all) {
			t.Fatal("lines are lost or out of order")
		}
		for i, page := range out {
			room := others
			if i == 0 {
				room = first
			}
			used, whole := 0.0, true // whole: all of it is kept together
			for j, l := range page {
				if j > 0 {
					used += l.before
				}
				used += l.height()
				whole = whole && l.keep
			}
			if used > room && len(page) > 1 {
				t.Fatalf("page %d is %.1f mm high, %.1f are there", i, used, room)
			}
			if last := page[len(page)-1]; i < len(out)-1 && last.keep && !whole {
				t.Fatalf("page %d ends with %q, which is to be kept with the next line", i, last.text)
			}
		}
	})
}

func TestAHeadingStandsWithWhatItHeads(t *testing.T) {
	all := lines(longSheet(3), 100, widthOf)
	for i, l := range all[:len(all)-1] {
		next := all[i+1]
		switch {
		case l.size > bodySize && !l.keep:
			t.Errorf("the heading %q may end a page", l.text)
		case l.beside && next.beside && !l.keep:
			t.Errorf("the caution with %q may be parted", l.text)
		}
	}
	para := wrapped(strings.Repeat("word ", 100), style{false, bodySize}, 0, 100, widthOf)
	one := lines(reminderwords.Sheet{Blocks: []reminderwords.Block{{Kind: reminderwords.Text, Text: strings.Repeat("word ", 100)}}}, 100, widthOf)
	if len(one) != len(para) || len(one) < 4 || !one[0].keep || !one[len(one)-2].keep || one[1].keep || one[len(one)-1].keep {
		t.Errorf("a paragraph of %d lines is kept otherwise: %+v", len(one), one)
	}
}
