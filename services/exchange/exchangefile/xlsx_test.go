package exchangefile

import (
	"archive/zip"
	"bytes"
	"fmt"
	"hash/crc32"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"halfshaft/services/exchange"
)

// madeBook makes a workbook with the library, which shares no code with the
// reader here.
func madeBook(t *testing.T, sheet string, fill func(*excelize.File)) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	if err := f.SetSheetName("Sheet1", sheet); err != nil {
		t.Fatal(err)
	}
	fill(f)
	b, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func set(f *excelize.File, sheet string, cells map[string]any) {
	for name, v := range cells {
		if err := f.SetCellValue(sheet, name, v); err != nil {
			panic(err)
		}
	}
}

func style(f *excelize.File, sheet, cell, code string) {
	id, err := f.NewStyle(&excelize.Style{CustomNumFmt: &code})
	if err != nil {
		panic(err)
	}
	if err := f.SetCellStyle(sheet, cell, cell, id); err != nil {
		panic(err)
	}
}

var readingColumns = map[string]any{"A1": "serial", "B1": "reading date", "C1": "value", "D1": "note"}

func TestADateCellIsADayHoweverItIsShown(t *testing.T) {
	day := time.Date(2020, 4, 3, 0, 0, 0, 0, time.UTC)
	for name, fill := range map[string]func(f *excelize.File){
		"in the machine's own way": func(f *excelize.File) {
			id, _ := f.NewStyle(&excelize.Style{NumFmt: 14})
			_ = f.SetCellStyle("readings", "B2", "B2", id)
		},
		"day first":            func(f *excelize.File) { style(f, "readings", "B2", "dd/mm/yyyy") },
		"month first":          func(f *excelize.File) { style(f, "readings", "B2", "m/d/yy") },
		"in words":             func(f *excelize.File) { style(f, "readings", "B2", `[$-809]d" of "mmmm yyyy;@`) },
		"only the month":       func(f *excelize.File) { style(f, "readings", "B2", "mmm") },
		"with the time of day": func(f *excelize.File) { set(f, "readings", map[string]any{"B2": day.Add(14 * time.Hour)}) },
		"counted from 1904": func(f *excelize.File) {
			yes := true
			_ = f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes})
			set(f, "readings", map[string]any{"B2": day})
		},
	} {
		t.Run(name, func(t *testing.T) {
			content := madeBook(t, "readings", func(f *excelize.File) {
				set(f, "readings", readingColumns)
				set(f, "readings", map[string]any{"A2": "AM0147P", "B2": day, "C2": "1200 mi"})
				fill(f)
			})
			c, faults := read(t, "works.xlsx", content)
			if got := drafts(c, "readings"); len(faults) > 0 || !strings.Contains(got, "reading_date:{year:2020 month:4 day:3}") {
				t.Errorf("got %s %v", got, faults)
			}
		})
	}
}

// The serial numbers are those that spreadsheets count: ECMA-376 Part 1,
// 18.17.4 (from memory); 43924 is 2020-04-03 in the test above too, where the
// library counts.
func TestDaysAreCountedAsSpreadsheetsDo(t *testing.T) {
	for _, c := range []struct {
		n    float64
		from bool
		want string
	}{
		{1, false, "1900-01-01"}, {59, false, "1900-02-28"}, {61, false, "1900-03-01"},
		{43924, false, "2020-04-03"}, {42462, true, "2020-04-03"},
		{43924.25, false, "2020-04-03T06:00:00"}, {2958465, false, "9999-12-31"},
	} {
		if got, ok := dayText(c.n, c.from); !ok || got != c.want {
			t.Errorf("day %v is %q, want %s", c.n, got, c.want)
		}
	}
	for _, n := range []float64{0, 0.5, -1, 2958466, 1e300} {
		if got, ok := dayText(n, false); ok {
			t.Errorf("%v is the day %s, want none", n, got)
		}
	}
}

func TestANumberKeepsTheDigitsThatAreShown(t *testing.T) {
	for _, c := range []struct {
		value, code, want string
	}{
		{"0.1", "0.00", "0.10"}, {"0.10000000000000001", "General", "0.1"}, {"0.30000000000000004", "0.0", "0.3"},
		{"0.123", "0.00", "0.123"}, {"1200", "#,##0", "1200"}, {"1200", "#,##0.00", "1200.00"}, {"-0.05", "0.00;[Red]-0.00", "-0.05"},
		{"24100123", "General", "24100123"}, {"1.2345678901234568E+17", "General", "1.2345678901234568E+17"}, {"123456789012345680", "0", "1.2345678901234568E+17"},
		{"4.7", `0.00" to 1"`, "4.70"}, {"4.7E-1", "General", "0.47"}, {"NaN", "General", "NaN"},
	} {
		if got := codeFormat(c.code).cell(c.value, false).Text; got != c.want {
			t.Errorf("%s shown as %s is %q, want %q", c.value, c.code, got, c.want)
		}
	}
}

func TestWhatASpreadsheetMadeOfACellIsRefusedOrUnderstood(t *testing.T) {
	for _, c := range []struct {
		name string
		fill func(*excelize.File)
		want []string // of the one fault; nil for none
	}{
		{"a number with its unit in the header", func(f *excelize.File) { set(f, "readings", map[string]any{"C1": "value (mi)", "C2": 1200}) }, nil},
		{"a serial with blanks around it", func(f *excelize.File) { set(f, "readings", map[string]any{"A2": " am0147p\u00a0"}) }, nil},
		{"a number where a day is wanted", func(f *excelize.File) { set(f, "readings", map[string]any{"B2": 43924}) }, []string{"readings, 2, reading date: 43924", "formatted as a date"}},
		{"a day in figures that two can read", func(f *excelize.File) { set(f, "readings", map[string]any{"B2": "03/04/2020"}) }, []string{"2020-04-03 or 2020-03-04"}},
		{"a date where a text is wanted", func(f *excelize.File) {
			set(f, "readings", map[string]any{"D2": time.Date(2020, 4, 3, 0, 0, 0, 0, time.UTC)})
		}, []string{", 2, note: 2020-04-03, text: the spreadsheet has made a date of it"}},
		{"a number that lost its digits", func(f *excelize.File) { set(f, "readings", map[string]any{"D2": 1.2345678901234568e17}) }, []string{", 2, note: ", "lost its last digits"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			content := madeBook(t, "readings", func(f *excelize.File) {
				set(f, "readings", readingColumns)
				set(f, "readings", map[string]any{"A2": "AM0147P", "B2": "2020-04-03", "C2": "1200 mi"})
				c.fill(f)
			})
			got, faults := read(t, "works.xlsx", content)
			if c.want != nil {
				only(t, faults, c.want...)
			} else if text := drafts(got, "readings"); len(faults) > 0 || !strings.Contains(text, `entered_value:"1200" entered_unit:"mi"`) {
				t.Errorf("got %s %v", text, faults)
			}
		})
	}
}

func TestAFormulaCountsByItsValue(t *testing.T) {
	for cell, want := range map[string]string{
		`<c r="C3"><f>1+1</f></c>`:                      "readings, 3, value: =1+1, a value: the file has a formula here that nobody has computed",
		`<c r="C3" t="e"><f>1/0</f><v>#DIV/0!</v></c>`:  "readings, 3, value: #DIV/0!, a value: the spreadsheet shows an error here",
		`<c r="C3" t="str"><f>A1</f><v>1300 mi</v></c>`: "",
		`<c r="C3" t="str"><f>A1</f><v>13,0 mi</v></c>`: "without a thousands mark",
		`<c r="C3"><f>1200+100</f><v>1300</v></c>`:      "readings, 3, value: 1300, a number and mi or km",
		`<c r="C3" t="b"><f>TRUE()</f><v>1</v></c>`:     "readings, 3, value: TRUE, a number and mi or km",
		`<c r="C3" t="n"><v>not a number</v></c>`:       "readings, 3, value: not a number",
		`<c r="C3" t="str"><f>A1</f><v></v></c>`:        "readings, 3, value: , value",
	} {
		row := `<row r="3"><c r="A3" t="str"><v>AM0147P</v></c><c r="B3" t="str"><v>2020-04-04</v></c>` + cell + `</row>`
		_, faults := read(t, "works.xlsx", parts(t, `<worksheet><sheetData>`+goodRows+row+`</sheetData></worksheet>`, nil))
		if want != "" {
			only(t, faults, want)
		} else if len(faults) > 0 {
			t.Errorf("%s: %v", cell, faults)
		}
	}
}

func TestASheetWhoseNameIsNoTableIsAFaultUnlessItIsEmptyOrANote(t *testing.T) {
	for _, c := range []struct {
		name, cell string
		want       string // of the one fault; empty for none
	}{
		{"supersesions", "id", "supersesions, the name of a table, as supersessions"},
		{"capacity", "id", "capacity, the name of a table, as capacities"},
		{"applicatons 2", "id", "applicatons 2, the name of a table, as applications"},
		{"Part", "id", "Part, the name of a table, as parts"},
		{"how to use this", "Ask Jane.", "the name of a table: builds"},
		{"supersesions", "", ""},
		{"supersesions", "  ", ""},
		{"_notes", "Ask Jane.", ""},
		{"# what is what", "Ask Jane.", ""},
	} {
		content := madeBook(t, "readings", func(f *excelize.File) {
			set(f, "readings", readingColumns)
			_, _ = f.NewSheet(c.name)
			if c.cell != "" {
				_ = f.SetCellStr(c.name, "B3", c.cell)
			}
		})
		_, faults := read(t, "works.xlsx", content)
		if c.want != "" {
			only(t, faults, c.want, "begins with _ or #")
		} else if len(faults) > 0 {
			t.Errorf("%s: %v", c.name, faults)
		}
	}
}

func TestSheetsThatAreNoTablesArePassedOver(t *testing.T) {
	content := madeBook(t, "Readings 2020", func(f *excelize.File) {
		set(f, "Readings 2020", readingColumns)
		set(f, "Readings 2020", map[string]any{"A2": "AM0147P", "B2": "2020-04-03", "C2": "1200 mi"})
		_, _ = f.NewSheet("_how to use this")
		_ = f.SetCellStr("_how to use this", "A1", "ask Jane")
	})
	c, faults := read(t, "works.xlsx", content)
	if len(faults) > 0 || c.Rows(exchange.TableNamed("readings")) != 1 {
		t.Errorf("got %d rows, %v", c.Rows(exchange.TableNamed("readings")), faults)
	}
	_, faults = read(t, "works.xlsx", madeBook(t, "notes", func(*excelize.File) {}))
	only(t, faults, "the sheets notes", "a sheet with the name of a table")
}

// parts makes a workbook part by part.
func parts(t *testing.T, sheet string, more map[string]string) []byte {
	t.Helper()
	all := map[string]string{
		"_rels/.rels":                `<Relationships><Relationship Id="1" Type="x/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
		"xl/workbook.xml":            `<workbook><sheets><sheet name="readings" r:id="s"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="s" Type="x/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="t" Type="x/sharedStrings" Target="/xl/sharedStrings.xml"/></Relationships>`,
		"xl/sharedStrings.xml":       `<sst><si><t>serial</t></si></sst>`,
		"xl/worksheets/sheet1.xml":   sheet,
	}
	for name, content := range more {
		all[name] = content
	}
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for name, content := range all {
		p, err := w.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(p, content); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

const goodRows = `<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="inlineStr"><is><t>reading date</t></is></c><c t="str"><v>value</v></c></row>` +
	`<row r="2"><c r="A2" t="inlineStr"><is><r><t>AM0147</t></r><r><t>P</t></r><rPh><t>spoken</t></rPh></is></c><c r="B2" t="d"><v>2020-04-03T00:00:00Z</v></c><c r="C2" t="str"><f>A1</f><v>1200 mi</v></c></row>`

func TestAWorkbookWrittenByOthersIsRead(t *testing.T) {
	c, faults := read(t, "works.xlsx", parts(t, `<worksheet><sheetData>`+goodRows+`</sheetData></worksheet>`, nil))
	if got := drafts(c, "readings"); len(faults) > 0 || !strings.Contains(got, "vehicles/AM0147P/readings/") {
		t.Errorf("got %s %v", got, faults)
	}
}

func TestADamagedWorkbookIsRefusedAndNeverReadInPart(t *testing.T) {
	good := parts(t, `<worksheet><sheetData>`+goodRows+`</sheetData></worksheet>`, nil)
	for _, c := range []struct {
		name    string
		content []byte
		want    string
	}{
		{"nothing", nil, "a damaged file"},
		{"junk", []byte("\x00\x01\x02junk that is no archive at all"), "a damaged file"},
		{"half a file", good[:len(good)/2], "a damaged file"},
		{"an old workbook", append([]byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"), make([]byte, 512)...), "an old or encrypted workbook"},
		{"a sheet that breaks off", parts(t, `<worksheet><sheetData>`+goodRows, nil), "breaks off"},
		{"a sheet of bad XML", parts(t, `<worksheet><sheetData>`+goodRows+`<row><c></row>`, nil), "breaks off or is damaged"},
		{"an entity of its own", parts(t, `<!DOCTYPE x [<!ENTITY a "aaaa">]><worksheet><sheetData><row><c><v>&a;</v></c></row></sheetData></worksheet>`, nil), "breaks off or is damaged"},
		{"a text that is not there", parts(t, `<worksheet><sheetData><row><c t="s"><v>7</v></c></row></sheetData></worksheet>`, nil), "a text that is not there"},
		{"rows out of order", parts(t, `<worksheet><sheetData><row r="5"/><row r="3"/></sheetData></worksheet>`, nil), "rows in order"},
		{"cells out of order", parts(t, `<worksheet><sheetData><row><c r="C1"/><c r="A1"/></row></sheetData></worksheet>`, nil), "cells in order"},
		{"a cell far to the right", parts(t, `<worksheet><sheetData><row><c r="XFD1"><v>1</v></c></row></sheetData></worksheet>`, nil), "at most 500 columns"},
		{"a row far below", parts(t, `<worksheet><sheetData><row r="2000000"/></sheetData></worksheet>`, nil), "at most 1048576"},
		{"a sheet that is missing", parts(t, "", map[string]string{"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="s" Type="x/worksheet" Target="gone.xml"/></Relationships>`}), "no part xl/gone.xml"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, faults := read(t, "works.xlsx", c.content)
			only(t, faults, c.want)
		})
	}
}

// bomb packs one part that unpacks to n copies of a text: deflate makes a
// thousandth of it.
func bomb(t *testing.T, name, before, repeated, after string, n int) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for part, content := range map[string]string{
		"xl/workbook.xml":            `<workbook><sheets><sheet name="readings" r:id="s"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships><Relationship Id="s" Type="x/worksheet" Target="sheet1.xml"/><Relationship Id="t" Type="x/sharedStrings" Target="sharedStrings.xml"/></Relationships>`,
		"xl/sharedStrings.xml":       `<sst/>`,
	} {
		if part == name {
			continue
		}
		p, _ := w.Create(part)
		_, _ = io.WriteString(p, content)
	}
	p, err := w.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	block := strings.Repeat(repeated, 1+(64<<10)/len(repeated))
	_, _ = io.WriteString(p, before)
	for done := 0; done < n*len(repeated); done += len(block) {
		_, _ = io.WriteString(p, block)
	}
	_, _ = io.WriteString(p, after)
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestABombIsRefusedInLittleMemory(t *testing.T) {
	for _, c := range []struct {
		name    string
		content []byte
		want    string
	}{
		{"one cell of 64 MB", bomb(t, "xl/sheet1.xml", `<worksheet><sheetData><row><c t="str"><v>`, "a", `</v></c></row></sheetData></worksheet>`, 64<<20), "one row or text of more than 4 MiB"},
		{"a row of ten million cells", bomb(t, "xl/sheet1.xml", `<worksheet><sheetData><row>`, "<c/>", `</row></sheetData></worksheet>`, 10_000_000), "one row or text of more than 4 MiB"},
		{"elements within elements", bomb(t, "xl/sheet1.xml", `<worksheet>`, "<a>", ``, 20_000_000), "one row or text of more than 4 MiB"},
		{"two million rows", bomb(t, "xl/sheet1.xml", `<worksheet><sheetData>`, "<row/>", `</sheetData></worksheet>`, 2_000_000), "at most 1048576"},
		{"a shared text of 64 MB", bomb(t, "xl/sharedStrings.xml", `<sst><si><t>`, "a", `</t></si></sst>`, 64<<20), "one row or text of more than 4 MiB"},
		{"three million shared texts", bomb(t, "xl/sharedStrings.xml", `<sst>`, "<si/>", `</sst>`, 3_000_000), "more shared texts"},
		{"styles without end", bomb(t, "xl/workbook.xml", `<workbook>`, "<x/>", `</workbook>`, 8<<20), "more than 8 MiB in one part"},
		{"a hundred thousand parts", manyParts(t, 100_000), "an archive of very many parts"},
	} {
		t.Run(c.name, func(t *testing.T) {
			underMemory(t, 512, func() {
				_, faults := read(t, "works.xlsx", c.content)
				only(t, faults, c.want)
			})
		})
	}
}

func manyParts(t *testing.T, n int) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for i := range n {
		if _, err := w.CreateRaw(&zip.FileHeader{Name: fmt.Sprint(i), CRC32: crc32.ChecksumIEEE(nil)}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Whatever stands in a record, a sheet gives it back: written by the library,
// read here.
func TestEveryTextComesBackFromASheet(t *testing.T) {
	dir := t.TempDir()
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		texts := rapid.SliceOfN(rapid.OneOf(
			rapid.StringN(0, 40, 200).Filter(holdsInXML),
			rapid.SampledFrom([]string{"_x0041_", "_x005F_", "_x005F_x0041_", "a_x000D_b", " leading", "trailing ", "two\nlines", "\t", "<&>\"'", "=1+1", "'", "-", "0.10", "2020-04-03"}),
		), 1, 12).Draw(t, "texts")
		n++
		path := filepath.Join(dir, fmt.Sprintf("%d.xlsx", n))
		book := newWorkbook(path)
		table := exchange.TableNamed("readings")
		if err := book.write(exchange.Row{Table: table, Cells: texts}); err != nil {
			t.Fatal(err)
		}
		if err := book.close(); err != nil {
			t.Fatal(err)
		}
		var k taken
		if err := readBook(path, &k); err != nil {
			t.Fatal(err)
		}
		if len(k.cells) < 1 {
			t.Fatal("no header")
		}
		for i, want := range texts {
			got := ""
			if len(k.cells) == 2 && i < len(k.cells[1]) {
				got = k.cells[1][i].Text
			}
			if got != want {
				t.Errorf("cell %d: wrote %q, read %q", i, want, got)
			}
		}
	})
}

// holdsInXML says whether XML 1.0 can say the text, and should; what it cannot
// is replaced before it comes to a file.
func holdsInXML(s string) bool {
	return !strings.ContainsFunc(s, func(r rune) bool {
		return r < ' ' && r != '\t' && r != '\n' || r >= 0x7f && r < 0xa0 && r != 0x85 || r == 0xfffe || r == 0xffff
	})
}

func readBook(path string, k *taken) error {
	f, err := zip.OpenReader(path)
	if err != nil {
		return err
	}
	defer f.Close()
	b, err := openBook(&f.Reader)
	if err != nil {
		return err
	}
	return b.rows(b.sheets[0], k.take)
}

func TestATextTooLongForASheetIsAnErrorAndNotCutOff(t *testing.T) {
	book := newWorkbook(filepath.Join(t.TempDir(), "works.xlsx"))
	defer book.file.Close()
	err := book.write(exchange.Row{Table: exchange.TableNamed("readings"), Cells: []string{strings.Repeat("a", 32_768)}})
	if err == nil || !strings.Contains(err.Error(), "export CSV") {
		t.Errorf("got %v", err)
	}
}

func FuzzXLSX(f *testing.F) {
	var t testing.T
	f.Add(parts(&t, `<worksheet><sheetData>`+goodRows+`</sheetData></worksheet>`, nil))
	f.Add([]byte("PK\x05\x06" + strings.Repeat("\x00", 18)))
	f.Fuzz(func(t *testing.T, content []byte) {
		c := exchange.NewCollection()
		if err := workbookRows(bytes.NewReader(content), int64(len(content)), "works.xlsx", c); err != nil {
			asFault(t, err)
		}
	})
}

// The archive's checks keep a fuzzer from the XML in it, so that is fuzzed by
// itself.
func FuzzSheet(f *testing.F) {
	f.Add(`<worksheet><sheetData>`+goodRows+`</sheetData></worksheet>`, `<sst><si><t>a</t></si></sst>`)
	f.Add(`<worksheet><sheetData><row r="2"><c s="1"><v>43924.5</v></c><c t="b"><v>1</v></c><c t="e"><v>#N/A</v></c></row></sheetData></worksheet>`, ``)
	f.Fuzz(func(t *testing.T, sheet, shared string) {
		content := parts(t, sheet, map[string]string{"xl/sharedStrings.xml": shared})
		c := exchange.NewCollection()
		if err := workbookRows(bytes.NewReader(content), int64(len(content)), "works.xlsx", c); err != nil {
			asFault(t, err)
		}
	})
}
