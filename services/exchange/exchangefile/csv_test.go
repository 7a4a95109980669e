package exchangefile

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"testing"

	"halfshaft/services/exchange"
)

// AM0147P carries its check character by ISO/IEC 7064 MOD 37-2, the scheme of
// checks.md O-44; it is the example of the works' own pages.
const readingsHeader = "serial,reading date,value,note\n"

func TestCSVIsReadHoweverAnOfficeProgramWritesIt(t *testing.T) {
	for name, content := range map[string]string{
		"with commas":               "serial,reading date,value,note\nAM0147P,2020-04-03,1200 mi,fine\n",
		"with semicolons":           "serial;reading date;value;note\nAM0147P;2020-04-03;1200 mi;fine\n",
		"with tabs":                 "serial\treading date\tvalue\tnote\nAM0147P\t2020-04-03\t1200 mi\tfine\n",
		"with a byte-order mark":    "\xef\xbb\xbfserial,reading date,value,note\nAM0147P,2020-04-03,1200 mi,fine\n",
		"with the line ends of DOS": "serial,reading date,value,note\r\nAM0147P,2020-04-03,1200 mi,fine\r\n",
		"without a last line end":   "serial,reading date,value,note\nAM0147P,2020-04-03,1200 mi,fine",
		"in another order":          "Note,VALUE,Reading_Date,serial\nfine,1200 mi,2020-04-03,AM0147P\n",
		"with blanks around cells":  "serial , reading date,value,note\n AM0147P ,2020-04-03  ,1200 mi , fine\n",
		"with the unit apart":       "serial,reading date,value,unit,note\nAM0147P,2020-04-03,1200,miles,fine\n",
		"with the unit above":       "serial,reading date,value (mi),note\nAM0147P,2020-04-03,1200,fine\n",
		"with the serial spoken":    "serial,reading date,value,note\nam-0147 p,3 April 2020,1200 mi,fine\n",
		"with empty rows between":   "\n\nserial,reading date,value,note\n\n,,,\nAM0147P,2020-04-03,1200 mi,fine\n,,,\n",
		"with empty columns":        "serial,,reading date,value,note,\nAM0147P,,2020-04-03,1200 mi,fine,\n",
	} {
		t.Run(name, func(t *testing.T) {
			c, faults := read(t, "readings.csv", []byte(content))
			if len(faults) > 0 {
				t.Fatal(faults)
			}
			// 1,200 miles of 1,609,344 mm: NIST SP 811, checks.md O-18.
			want := `reading_date:{year:2020 month:4 day:3} value:{millimetres:1931212800 entered_value:"1200" entered_unit:"mi"} note:"fine"`
			if got := drafts(c, "readings"); !strings.Contains(got, want) {
				t.Errorf("got %s, want %s", got, want)
			}
		})
	}
}

func TestRowsAreNumberedAsASpreadsheetCounts(t *testing.T) {
	content := readingsHeader + // row 1
		"AM0147P,2020-04-03,1200 mi,\"two\nlines\"\n" + // row 2, lines 2 and 3
		"\n" + // row 3
		"AM0147P,tomorrow,1300 mi,\n" // row 4, line 5
	_, faults := read(t, "readings.csv", []byte(content))
	only(t, faults, ", 4, reading date: tomorrow, a day, the year first: 2020-04-03")
}

func TestCSVThatIsNotWhatItSeemsIsRefused(t *testing.T) {
	for _, c := range []struct {
		name, file, content string
		want                []string
	}{
		{"text in UTF-16", "readings.csv", "\xff\xfes\x00e\x00", []string{"UTF-16", "CSV UTF-8"}},
		{"a workbook by another name", "readings.csv", "PK\x03\x04\x00", []string{"a binary file"}},
		{"junk behind a good beginning", "readings.csv", readingsHeader + strings.Repeat(",,,\n", 2000) + "\x00\x01,,,\n", []string{"bytes that no text has"}},
		{"a byte of Latin-1", "readings.csv", readingsHeader + "AM0147P,2020-04-03,1200 mi,caf\xe9\n", []string{", 2, note: ", "CSV UTF-8"}},
		{"a stray quotation mark", "readings.csv", readingsHeader + "AM0147P,2020-04-03,1200 mi,5\" hose\n", []string{", 2, : a stray quotation mark in line 2"}},
		{"a name that is nearly a table", "readigs.csv", readingsHeader, []string{"readigs", "the name of a table, as readings"}},
		{"a name that is no table", "shopping.csv", readingsHeader, []string{"shopping", "builds, components"}},
		{"a column that is none", "readings.csv", "serial,reading date,value,colour\nAM0147P,2020-04-03,1200 mi,red\n", []string{", 1, colour: colour, one of the columns: serial, id, reading date"}},
		{"a column twice", "readings.csv", "serial,reading date,value,value\n", []string{"each column once"}},
		{"a column that is missing", "readings.csv", "serial,value\nAM0147P,1200 mi\n", []string{", 1, reading date: , the column reading date"}},
		{"more cells than the header", "readings.csv", readingsHeader + "AM0147P,2020-04-03,1200 mi,fine,what\n", []string{", 2, : what, nothing beyond the last column"}},
		{"a cell without a header", "readings.csv", "serial,reading date,value,\nAM0147P,2020-04-03,1200 mi,what\n", []string{", 2, : what, nothing under an empty header"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, faults := read(t, c.file, []byte(c.content))
			only(t, faults, c.want...)
		})
	}
}

func TestHugeCSVIsRefusedInLittleMemory(t *testing.T) {
	letters := func(n int64) io.Reader { return io.LimitReader(endless("a"), n) }
	for _, c := range []struct {
		name    string
		content io.Reader
		want    string
	}{
		{"a quotation mark that is never closed", io.MultiReader(strings.NewReader(readingsHeader+`AM0147P,2020-04-03,1 mi,"`), letters(1<<30)), "a closing quotation mark"},
		{"one cell of 10 MB", io.MultiReader(strings.NewReader(readingsHeader+`AM0147P,2020-04-03,1 mi,`), letters(10<<20), strings.NewReader("\n")), "a closing quotation mark"},
		{"one cell of 100 KB", io.MultiReader(strings.NewReader(readingsHeader+`AM0147P,2020-04-03,1 mi,`), letters(100<<10), strings.NewReader("\n")), "at most 65536"},
		{"a header of a million columns", io.MultiReader(io.LimitReader(endless("a,"), 2<<20), strings.NewReader("\n")), "at most 500"},
	} {
		t.Run(c.name, func(t *testing.T) {
			underMemory(t, 256, func() {
				sheet := exchange.NewCollection().Sheet("readings.csv", "", exchange.TableNamed("readings"))
				if bad := asFault(t, csvRows(c.content, sheet)); !strings.Contains(bad.want, c.want) {
					t.Errorf("got %v, want %q", bad, c.want)
				}
			})
		})
	}
}

func TestAFileThatIsWrongInEveryCellFillsNoMemory(t *testing.T) {
	underMemory(t, 512, func() {
		c := exchange.NewCollection()
		sheet := c.Sheet("readings.csv", "", exchange.TableNamed("readings"))
		wrong := io.LimitReader(endless("x,x,x,x\n"), 8*400_000)
		if err := csvRows(io.MultiReader(strings.NewReader(readingsHeader), wrong), sheet); err != nil {
			t.Fatal(err)
		}
		if c.Faults.Len() != 3*400_000 {
			t.Errorf("%d faults were counted, want three in each of 400,000 rows", c.Faults.Len())
		}
		if n := len(c.Faults.Sorted()); n > 100_000 {
			t.Errorf("%d faults are kept", n)
		}
	})
}

// endless repeats a text for ever.
type endless string

func (e endless) Read(p []byte) (int, error) {
	n := 0
	for n+len(e) <= len(p) {
		n += copy(p[n:], e)
	}
	return n, nil
}

func FuzzCSV(f *testing.F) {
	f.Add([]byte(readingsHeader + "AM0147P,2020-04-03,1200 mi,fine\n"))
	f.Add([]byte("\xef\xbb\xbfserial;reading date;value (km)\nam 0147 p;3 April 2020;12.5\n"))
	f.Add([]byte("serial,\"reading\ndate\",value\n\"\",,\n"))
	f.Add([]byte("\xff\xfe\x00"))
	f.Fuzz(func(t *testing.T, content []byte) {
		for _, table := range exchange.Tables() {
			c := exchange.NewCollection()
			err := csvRows(bytes.NewReader(content), c.Sheet("x.csv", "", table))
			if err != nil {
				asFault(t, err)
			}
			c.Join()
			for _, d := range c.Drafts(table) {
				if m := c.Message(d); m == nil {
					t.Error(fmt.Sprint("no message for ", d.Name))
				}
			}
		}
	})
}
