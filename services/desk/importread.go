package desk

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime"
	"mime/multipart"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"halfshaft/services/fault"
)

const (
	mostUpload   = 16 << 20 // of files sent at once
	mostUnpacked = 32 << 20 // of what they are without an archive
	mostFiles    = 1000
	mostDeep     = 4 // folders within each other
	mostPath     = 200
	mostWrong    = 12 // names of files that no import reads, on a page
)

// importKinds are the endings of the files that are read.
var importKinds = []string{".csv", ".xlsx", ".yaml", ".yml"}

// handbookFolder is where an export has the files of handbooks, and handbookKinds
// are their endings: they are taken in with the issues that name them.
const handbookFolder = "handbook_files"

var handbookKinds = []string{".pdf", ".html", ".json"}

// readUpload reads the files that were sent: by themselves, as a folder, or in an
// archive. What is wrong with them as files is said at the field.
func (v *visit) readUpload() ([]Upload, error) {
	v.r.Body = http.MaxBytesReader(v.w, v.r.Body, mostUpload)
	parts, err := v.r.MultipartReader()
	if err != nil {
		return nil, refusedFiles("", "files, chosen in the form")
	}
	var sent sentFiles
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
			return nil, refusedFiles("more", "at most 16 MiB of files; the command halfshaft import takes more")
		}
		if err != nil {
			return nil, refusedFiles("", "files that can be read: send them again")
		}
		name := fileName(part)
		switch {
		case name == "" || part.FormName() != "files" && part.FormName() != "folder":
			continue
		case strings.EqualFold(path.Ext(name), ".zip"):
			err = sent.unpack(name, raw)
		case part.FormName() == "files": // what a folder it was in is called says nothing
			err = sent.take(path.Base(name), raw, false)
		default:
			err = sent.take(name, raw, true)
		}
		if err != nil {
			return nil, err
		}
	}
	return sent.all()
}

func refusedFiles(got, want string) error { return fault.InvalidField("files", got, want) }

// fileName is what the sender calls a file, with its folders, which
// part.FileName leaves out.
func fileName(part *multipart.Part) string {
	_, params, err := mime.ParseMediaType(part.Header.Get("Content-Disposition"))
	if err != nil {
		return ""
	}
	return strings.ReplaceAll(params["filename"], `\`, "/")
}

// sentFiles collects what was sent.
type sentFiles struct {
	files []Upload
	wrong []string
	bytes int
}

// take takes one file.
func (s *sentFiles) take(name string, raw []byte, folder bool) error {
	if !s.wants(name, folder) {
		return nil
	}
	switch {
	case slices.ContainsFunc(s.files, func(u Upload) bool { return strings.EqualFold(u.Name, name) }):
		return refusedFiles(name, "each file once; "+name+" came twice")
	case slices.ContainsFunc(s.files, func(u Upload) bool { return below(u.Name, name) || below(name, u.Name) }):
		return refusedFiles(name, "names that are either a file's or a folder's; "+name+" is both")
	case len(s.files) == mostFiles:
		return refusedFiles("more", "at most "+strconv.Itoa(mostFiles)+" files at once")
	case s.bytes+len(raw) > mostUnpacked:
		return refusedFiles("more", "at most 32 MiB of files without their archive; the command halfshaft import takes more")
	}
	s.files, s.bytes = append(s.files, Upload{name, raw}), s.bytes+len(raw)
	return nil
}

// below reports whether a name is one below another, on systems that tell no
// capitals apart too.
func below(name, folder string) bool {
	return len(name) > len(folder) && name[len(folder)] == '/' && strings.EqualFold(name[:len(folder)], folder)
}

// wants says by its name whether a file is taken, and keeps the names of those that
// no import reads, to be told together. Of a folder it passes over what programs
// leave there by themselves: hidden files, and the lock files of office programs.
func (s *sentFiles) wants(name string, folder bool) bool {
	if folder && slices.ContainsFunc(strings.Split(name, "/"), leftover) {
		return false
	}
	if goodPath(name) && readKind(name) {
		return true
	}
	said := []rune(strings.Map(printable, path.Base(name)))
	s.wrong = append(s.wrong, "“"+string(said[:min(len(said), mostPath)])+"”")
	return false
}

func leftover(segment string) bool {
	return strings.HasPrefix(segment, "~$") || strings.HasPrefix(segment, ".") && segment != "." && segment != ".." || segment == "__MACOSX" || segment == "Thumbs.db" || segment == "desktop.ini"
}

// goodPath reports whether a name stays below where it is put, and is one that
// every system takes.
func goodPath(name string) bool {
	return fs.ValidPath(name) && len(name) <= mostPath && strings.Count(name, "/") <= mostDeep && !strings.ContainsFunc(name, func(r rune) bool { return printable(r) < 0 }) &&
		!strings.Contains(name, ":") && !slices.ContainsFunc(strings.Split(name, "/"), func(s string) bool { return strings.HasPrefix(s, ".") })
}

func printable(r rune) rune {
	if unicode.IsPrint(r) {
		return r
	}
	return -1
}

// readKind reports whether an import reads a file.
func readKind(name string) bool {
	ending := strings.ToLower(path.Ext(name))
	return slices.Contains(importKinds, ending) || path.Base(path.Dir(name)) == handbookFolder && slices.Contains(handbookKinds, ending)
}

// unpack takes what is in an archive. How much it is counts as it comes out: what
// an archive says of itself is not believed.
func (s *sentFiles) unpack(name string, raw []byte) error {
	unread := refusedFiles(path.Base(name), "a zip archive that can be read, without a password")
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		return unread
	}
	for _, f := range z.File {
		switch at := strings.ReplaceAll(f.Name, `\`, "/"); {
		case strings.HasSuffix(at, "/"):
		case !f.Mode().IsRegular() || strings.HasPrefix(at, "/") || slices.Contains(strings.Split(at, "/"), ".."):
			return refusedFiles(path.Base(name), fmt.Sprintf("an archive of plain files below one folder; in it is %q", at))
		case s.wants(at, true): // what is not taken is not unpacked either: it counts towards no bound
			content, err := unpacked(f, mostUnpacked-s.bytes)
			if err != nil {
				return unread
			}
			if err := s.take(at, content, true); err != nil {
				return err
			}
		}
	}
	return nil
}

// unpacked reads a file of an archive, and no more than a byte over the most.
func unpacked(f *zip.File, most int) ([]byte, error) {
	r, err := f.Open()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	return io.ReadAll(io.LimitReader(r, int64(most)+1))
}

// all gives what was sent, in order, without the folder that all of it is in.
func (s *sentFiles) all() ([]Upload, error) {
	switch {
	case len(s.wrong) > 0:
		names := someOf(s.wrong, mostWrong)
		return nil, refusedFiles(names, "files ending in .csv, .xlsx, .yaml or .yml instead of "+names+", and the files of handbooks in their folder "+handbookFolder)
	case len(s.files) == 0:
		return nil, refusedFiles("", "one file at least")
	}
	for range mostDeep {
		top, _, ok := strings.Cut(s.files[0].Name, "/")
		if !ok || top == handbookFolder || slices.ContainsFunc(s.files, func(u Upload) bool { return !strings.HasPrefix(u.Name, top+"/") }) {
			break
		}
		for i := range s.files {
			s.files[i].Name = s.files[i].Name[len(top)+1:]
		}
	}
	inOrder(s.files)
	return s.files, nil
}
