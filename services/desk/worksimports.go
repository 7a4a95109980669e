package desk

import (
	"context"
	"net/http"
	"strconv"
	"strings"

	"halfshaft/services/wording"
)

// Upload is a file that somebody sent.
type Upload struct {
	Name  string // with its folders, in the form of fs.ValidPath
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

const mostFaults = 200 // on a page

func uploadForm() *form {
	return &form{ID: "upload", Action: "/works/imports", Submit: "Look at the files", Upload: true, Fields: []field{
		{Name: "files", Label: "Files", Type: "file", Accept: strings.Join(importKinds, ",") + ",.zip",
			Hint: "CSV and Excel tables, YAML documents, as many as belong together, or a zip archive of them; at most 16 MiB. A table has the name of its file or sheet: builds.csv, readings.csv."},
		{Name: "folder", Label: "Or a folder, with all that is in it", Type: "folder",
			Hint: "As an export writes it: handbooks come with their files, which lie in the folder handbook_files. A browser that chooses no folders takes the zip archive of it above."}}}
}

func (v *visit) showImports() { v.importsPage(http.StatusOK, uploadForm()) }

func (v *visit) importsPage(status int, f *form) {
	v.worksPage(status, "Import", block{
		Text: []string{"The files are looked at first, all of them together with what is on record, and every row that is wrong is told at once. Nothing is written before you say so, and then all of it or nothing."},
		Form: f,
	})
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
	text := "Nothing is wrong. " + wording.UpperFirst(wording.Count(report.New, "record")) + " would be written; " + wording.Count(report.Unchanged, "record") + wording.Verb(report.Unchanged, " is", " are") + " there already, the same."
	offer := block{Text: []string{text, "The files wait here for half an hour, also when the program is started anew."}, Form: &form{ID: "import", Action: "/works/imports/" + name, Submit: "Import " + wording.Count(report.New, "record"), Fields: []field{requestField()}},
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
		t.Rows = append(t.Rows, []cell{{Text: wording.UpperFirst(x.Name)}, {Text: strconv.Itoa(x.Rows)}})
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
	head := wording.Count(r.Total, "thing") + " to put right. Nothing was written."
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
	v.worksShow("Imported", block{Text: []string{wording.UpperFirst(wording.Count(report.Written, "record")) + " written; " + wording.Count(report.Unchanged, "record") + wording.Verb(report.Unchanged, " was", " were") + " there already."},
		Links: []link{{Label: "Import more", Path: "/works/imports"}}}, readBlock(files, report))
}
