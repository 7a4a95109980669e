package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net/http"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"halfshaft/services/fault"
)

// Upload is a file that somebody sent.
type Upload struct {
	Name  string // without directories
	Bytes []byte
}

// Imported says what an import found and did.
type Imported struct {
	Tables    []ImportedTable // what was read
	Faults    []ImportFault   // when there are any, nothing was written
	Total     int             // of faults; more than listed where a file is wrong in every cell
	NotLooked []string        // what the faults kept from being checked, in sentences
	New       int             // records that would be written
	Written   int
	Unchanged int      // records that are there already, the same
	Left      []string // files that no import takes in
}

// ImportedTable is how many rows, or documents, of a kind were read.
type ImportedTable struct {
	Name string
	Rows int
}

// ImportFault is one thing that is wrong with the files, and where.
type ImportFault struct {
	File, Sheet string
	Row         int // as a spreadsheet counts, the header is 1; 0 for the whole file
	Column      string
	Got, Want   string
}

const (
	mostUpload   = 16 << 20 // of files sent at once
	mostUploaded = 64 << 20 // of files that wait, of everybody
	mostFiles    = 200
	uploadKept   = 30 * time.Minute
	mostFaults   = 200 // on a page
)

// uploads are files that were looked at and wait to be imported. They are kept in
// memory alone, for they may hold names and addresses, and not for long.
type uploads struct {
	mu sync.Mutex
	of map[string]upload // by name
}

type upload struct {
	account string
	at      time.Time
	files   []Upload
	bytes   int
}

// keep keeps files for an account and names them; the same files of the same
// account have the same name.
func (u *uploads) keep(account string, files []Upload, now time.Time) (string, error) {
	hash, bytes := sha256.New(), 0
	for _, part := range append([]Upload{{Name: account}}, files...) {
		fmt.Fprintf(hash, "%d:%s%d:", len(part.Name), part.Name, len(part.Bytes))
		hash.Write(part.Bytes)
		bytes += len(part.Bytes)
	}
	name := hex.EncodeToString(hash.Sum(nil))
	u.mu.Lock()
	defer u.mu.Unlock()
	u.forget(now)
	delete(u.of, name)
	all := bytes
	for _, x := range u.of {
		all += x.bytes
	}
	if all > mostUploaded {
		return "", fault.New(fault.Exhausted, "UPLOADS_FULL", "too many files wait to be imported: try again in half an hour, or use the command halfshaft import")
	}
	if u.of == nil {
		u.of = map[string]upload{}
	}
	u.of[name] = upload{account, now, files, bytes}
	return name, nil
}

// take gives the files back to whose they are; nil where they wait no longer.
func (u *uploads) take(name, account string, now time.Time) []Upload {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.forget(now)
	if x, ok := u.of[name]; ok && x.account == account {
		return x.files
	}
	return nil
}

func (u *uploads) drop(name string) {
	u.mu.Lock()
	defer u.mu.Unlock()
	delete(u.of, name)
}

func (u *uploads) forget(now time.Time) {
	for name, x := range u.of {
		if age := now.Sub(x.at); age.Abs() > uploadKept { // a clock that was set back ends them too
			delete(u.of, name)
		}
	}
}

// importKinds are the endings of the files that are read.
var importKinds = []string{".csv", ".xlsx", ".yaml", ".yml"}

func uploadForm() *form {
	return &form{ID: "upload", Action: "/works/imports", Submit: "Look at the files", Upload: true, Fields: []field{
		{Name: "files", Label: "Files", Type: "file", Accept: strings.Join(importKinds, ","), Required: true,
			Hint: "CSV and Excel tables, YAML documents, as many as belong together; at most 16 MiB. A table has the name of its file or sheet: builds.csv, readings.csv."}}}
}

func (v *visit) showImports() { v.importsPage(http.StatusOK, uploadForm()) }

func (v *visit) importsPage(status int, f *form) {
	v.worksPage(status, "Import", block{
		Text: []string{"The files are looked at first, all of them together with what is on record, and every row that is wrong is told at once. Nothing is written before you say so, and then all of it or nothing."},
		Form: f,
	})
}

// readUpload reads the files that were sent. What is wrong with them as files is
// said at the field.
func (v *visit) readUpload() ([]Upload, error) {
	refused := func(got, want string) error { return fault.InvalidField("files", got, want) }
	v.r.Body = http.MaxBytesReader(v.w, v.r.Body, mostUpload)
	parts, err := v.r.MultipartReader()
	if err != nil {
		return nil, refused("", "files, chosen in the form")
	}
	var files []Upload
	var wrong []string
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		var raw []byte
		if err == nil {
			raw, err = io.ReadAll(part)
		}
		if tooLong := new(http.MaxBytesError); errors.As(err, &tooLong) {
			return nil, refused("more", "at most 16 MiB of files; the command halfshaft import takes more")
		}
		if err != nil {
			return nil, refused("", "files that can be read: send them again")
		}
		name := path.Base(strings.ReplaceAll(part.FileName(), `\`, "/"))
		switch {
		case part.FormName() != "files" || part.FileName() == "":
		case name == "." || name == "/" || strings.HasPrefix(name, ".") || strings.ContainsAny(name, "\x00\r\n") || len(name) > 200 || !slices.Contains(importKinds, strings.ToLower(filepath.Ext(name))):
			wrong = append(wrong, name)
		case slices.ContainsFunc(files, func(u Upload) bool { return u.Name == name }):
			return nil, refused(name, "each file once; "+name+" came twice")
		case len(files) == mostFiles:
			return nil, refused("more", "at most "+strconv.Itoa(mostFiles)+" files at once")
		default:
			files = append(files, Upload{name, raw})
		}
	}
	switch {
	case len(wrong) > 0:
		return nil, refused(strings.Join(wrong, ", "), "files ending in .csv, .xlsx, .yaml or .yml instead of “"+strings.Join(wrong, "”, “")+"”")
	case len(files) == 0:
		return nil, refused("", "one file at least")
	}
	slices.SortFunc(files, func(a, b Upload) int { return strings.Compare(a.Name, b.Name) })
	return files, nil
}

// lookAtUpload says what an import would do, and offers it where nothing is wrong.
func (v *visit) lookAtUpload() {
	files, err := v.readUpload()
	var report Imported
	if err == nil {
		report, err = v.d.Import(v.as(), files, true)
	}
	if err != nil {
		f := uploadForm()
		v.again(err, f, func(status int) { v.importsPage(status, f) })
		return
	}
	if report.Total > 0 {
		v.faultsPage(report)
		return
	}
	name, err := v.d.uploads.keep(v.signed.Account.GetName(), files, v.d.Clock())
	if err != nil {
		v.refuse(err)
		return
	}
	text := "Nothing is wrong. " + upperFirst(plural(report.New, "record")) + " would be written; " + plural(report.Unchanged, "record") + " are there already, the same."
	offer := block{Text: []string{text, "The files wait here for half an hour."}, Form: &form{ID: "import", Action: "/works/imports/" + name, Submit: "Import " + plural(report.New, "record"), Fields: []field{requestField()}},
		Links: []link{{Label: "Other files", Path: "/works/imports"}}}
	if report.New == 0 {
		offer.Text, offer.Form = []string{"Nothing is wrong, and nothing is new: every record is there already."}, nil
		if report.Unchanged == 0 {
			offer.Text = []string{"There is no record in the files. Nothing was written."}
		}
	}
	v.worksShow("What the files would change", offer, readBlock(files, report))
}

// readBlock says what was read.
func readBlock(files []Upload, r Imported) block {
	t := &table{Caption: "What was read", Heads: []string{"Kind", "Rows"}, Empty: "Nothing was read."}
	for _, x := range r.Tables {
		t.Rows = append(t.Rows, []cell{{Text: upperFirst(x.Name)}, {Text: strconv.Itoa(x.Rows)}})
	}
	out := block{Heading: "What was read", Table: t}
	var names []string
	for _, f := range files {
		names = append(names, f.Name)
	}
	if len(names) > 0 {
		out.Text = []string{"From " + someOf(names, 12) + "."}
	}
	if len(r.Left) > 0 {
		out.Text = append(out.Text, "No import takes in "+strings.Join(r.Left, ", ")+": that is history.")
	}
	return out
}

// faultsPage tells every row that is wrong.
func (v *visit) faultsPage(r Imported) {
	t := &table{Caption: "What is wrong", Heads: []string{"Where", "Column", "Got", "Wanted"}}
	for _, f := range r.Faults[:min(len(r.Faults), mostFaults)] {
		where := cell{Text: f.File, Sub: f.Sheet}
		if f.Row > 0 {
			where.Text += ", row " + strconv.Itoa(f.Row)
		}
		t.Rows = append(t.Rows, []cell{where, {Text: orNothing(f.Column)}, {Text: gotText(f.Got), Mono: f.Got != ""}, {Text: f.Want}})
	}
	head := plural(r.Total, "thing") + " to put right. Nothing was written."
	if len(t.Rows) < r.Total {
		head += " The first " + strconv.Itoa(len(t.Rows)) + " are shown; more may follow once these are right."
	}
	v.worksPage(http.StatusUnprocessableEntity, "Something in the files is wrong", block{Text: append([]string{head}, r.NotLooked...), Table: t},
		block{Heading: "Send them again", Form: uploadForm()})
}

func gotText(got string) string {
	if got == "" {
		return "nothing"
	}
	return got
}

// importUpload writes what was looked at, all of it or nothing. It goes on where
// the browser does not wait.
func (v *visit) importUpload() {
	if !v.readForm() {
		return
	}
	name := v.r.PathValue("upload")
	files := v.d.uploads.take(name, v.signed.Account.GetName(), v.d.Clock())
	if files == nil {
		f := uploadForm()
		f.Error = "These files wait here no longer, or were imported. Send them again: what is on record already is passed over."
		v.importsPage(http.StatusConflict, f)
		return
	}
	report, err := v.d.Import(context.WithoutCancel(v.as()), files, false)
	if err != nil {
		v.refuse(err)
		return
	}
	if report.Total > 0 { // something changed since they were looked at
		v.faultsPage(report)
		return
	}
	v.d.uploads.drop(name)
	v.worksShow("Imported", block{Text: []string{upperFirst(plural(report.Written, "record")) + " written; " + plural(report.Unchanged, "record") + " were there already."},
		Links: []link{{Label: "Import more", Path: "/works/imports"}}}, readBlock(files, report))
}
