package ownerpages

import (
	"errors"
	"io"
	"mime"
	"net/http"
	"net/url"
	"strings"
	"unicode/utf8"

	"github.com/google/uuid"
)

// The most that a form holds, in bytes.
const (
	maxForm  = 32 << 10 // all fields together
	maxPhoto = 8 << 20  // a photograph
	maxBody  = 40 << 20 // what is read at all, so that a photograph that is too large can be told of
)

// form is what was sent with a page.
type form struct {
	url.Values
	photo    []byte
	tooLarge bool // there was a photograph, and it was more than maxPhoto
}

// errForm says that a form cannot be read.
var errForm = errors.New("the form cannot be read")

// text is a field without the space around it. A browser sends lines with both
// signs of their end (HTML standard, form submission), of which the services take
// one, and count one.
func (f form) text(name string) string {
	return strings.TrimSpace(strings.ReplaceAll(f.Get(name), "\r\n", "\n"))
}

// request is the identifier of the form as it was shown, so that sending it
// twice does it once; a new one where it has none.
func (f form) request() string {
	if id, err := uuid.Parse(f.Get("request")); err == nil {
		return id.String()
	}
	return uuid.NewString()
}

// second is the identifier of another call for the same form.
func second(request, what string) string {
	return uuid.NewSHA1(uuid.MustParse(request), []byte(what)).String()
}

// inParts says whether a form comes in parts, one of which may be a photograph.
func inParts(r *http.Request) bool {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	return err == nil && kind == partsType
}

// partsType is the kind of a form in parts (RFC 7578).
const partsType = "multipart/form-data"

// readForm reads either kind of form (RFC 8058 section 3.1 lets a mail program
// send both). A photograph is taken in only where one is asked for.
func readForm(w http.ResponseWriter, r *http.Request, photo bool) (form, error) {
	kind, parameters, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil {
		return form{}, errForm
	}
	switch kind {
	case "application/x-www-form-urlencoded":
		raw, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxForm))
		if err != nil {
			return form{}, errForm
		}
		values, err := url.ParseQuery(string(raw))
		return checked(form{Values: values}, err)
	case partsType:
		most := int64(maxForm)
		if photo {
			most = maxBody
		}
		if parameters["boundary"] == "" {
			return form{}, errForm
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		return checked(readParts(r, photo))
	}
	return form{}, errForm
}

// checked refuses fields that are no text.
func checked(f form, err error) (form, error) {
	for name, values := range f.Values {
		for _, text := range append(values, name) {
			if !utf8.ValidString(text) || strings.ContainsRune(text, 0) {
				return form{}, errForm
			}
		}
	}
	if err != nil {
		return form{}, errForm
	}
	return f, nil
}

// readParts reads a form in parts, one after the other: nothing goes to disk.
func readParts(r *http.Request, photo bool) (form, error) {
	f := form{Values: url.Values{}}
	reader, err := r.MultipartReader()
	if err != nil {
		return f, err
	}
	room := int64(maxForm)
	for {
		part, err := reader.NextPart()
		if errors.Is(err, io.EOF) {
			return f, nil
		}
		if err != nil {
			return f, err
		}
		if part.FileName() != "" {
			if err := f.readPhoto(part, photo && part.FormName() == "photograph"); err != nil {
				return f, err
			}
			continue
		}
		value, err := io.ReadAll(io.LimitReader(part, room+1))
		if room -= int64(len(value)); err != nil || room < 0 {
			return f, errForm
		}
		f.Add(part.FormName(), string(value))
	}
}

// readPhoto takes a file in, or passes over it.
func (f *form) readPhoto(part io.Reader, wanted bool) error {
	if wanted && f.photo == nil {
		raw, err := io.ReadAll(io.LimitReader(part, maxPhoto+1))
		if err != nil {
			return err
		}
		if f.photo = raw; len(raw) > maxPhoto {
			f.photo, f.tooLarge = nil, true
		}
	}
	_, err := io.Copy(io.Discard, part)
	return err
}
