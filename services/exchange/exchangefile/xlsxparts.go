package exchangefile

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"
)

// book is an opened workbook.
type book struct {
	parts    map[string]*zip.File
	sheets   []bookSheet
	shared   []string // the texts that cells name by their number
	formats  []format // by the style of a cell
	from1904 bool     // whether days are counted from 1904
}

type bookSheet struct{ name, part string }

func (b *book) names() []string {
	var out []string
	for _, s := range b.sheets {
		out = append(out, s.name)
	}
	return out
}

// openBook reads all that a sheet refers to.
func openBook(archive *zip.Reader) (*book, error) {
	b := &book{parts: map[string]*zip.File{}}
	for _, f := range archive.File {
		if name := strings.TrimPrefix(f.Name, "/"); b.parts[name] == nil {
			b.parts[name] = f
		}
	}
	main := "xl/workbook.xml"
	for _, r := range b.relations("") {
		if strings.HasSuffix(r.kind, "/officeDocument") {
			main = r.target
		}
	}
	related := b.relations(main)
	if err := b.read(main, func(e xml.StartElement) { b.workbookElement(e, related) }); err != nil {
		return nil, err
	}
	for _, r := range related {
		var err error
		switch {
		case strings.HasSuffix(r.kind, "/sharedStrings"):
			err = b.readShared(r.target)
		case strings.HasSuffix(r.kind, "/styles"):
			err = b.readStyles(r.target)
		}
		if err != nil {
			return nil, err
		}
	}
	return b, nil
}

type relation struct{ id, kind, target string }

// relations reads what a part refers to; of the workbook as a whole when part
// is empty. A part without any is common, and one whose relations are damaged
// will be missed when it is looked for.
func (b *book) relations(part string) []relation {
	dir, file := path.Split(part)
	var out []relation
	_ = b.read(dir+"_rels/"+file+".rels", func(e xml.StartElement) {
		if e.Name.Local == "Relationship" {
			target := attr(e, "Target")
			if !strings.HasPrefix(target, "/") {
				target = "/" + path.Join(dir, target)
			}
			out = append(out, relation{attr(e, "Id"), attr(e, "Type"), target[1:]})
		}
	})
	return out
}

func (b *book) workbookElement(e xml.StartElement, related []relation) {
	switch e.Name.Local {
	case "workbookPr":
		b.from1904 = attr(e, "date1904") == "1" || attr(e, "date1904") == "true"
	case "sheet":
		id := attr(e, "id")
		i := slices.IndexFunc(related, func(r relation) bool { return r.id == id })
		if i >= 0 {
			b.sheets = append(b.sheets, bookSheet{attr(e, "name"), related[i].target})
		}
	}
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// open gives a part as a stream of XML that ends with a fault when it is
// longer than most, or when so much comes without a checkpoint that it cannot
// be one row or one text.
func (b *book) open(part string, most int64) (*partReader, error) {
	f := b.parts[part]
	if f == nil {
		return nil, &malformed{got: "no part " + part, want: "an XLSX workbook that a spreadsheet opens"}
	}
	r, err := f.Open()
	if err != nil {
		return nil, notAWorkbook()
	}
	p := &partReader{file: r, left: most, most: most}
	p.Decoder = xml.NewDecoder(p)
	return p, nil
}

type partReader struct {
	*xml.Decoder
	file       io.ReadCloser
	left, most int64
	since      int // bytes since the last checkpoint
}

func (p *partReader) Read(buffer []byte) (int, error) {
	if p.left <= 0 {
		return 0, &malformed{got: "more than " + size(p.most) + " in one part of the workbook", want: "less"}
	}
	if p.since > maxElementBytes {
		return 0, &malformed{got: "one row or text of more than " + size(maxElementBytes), want: "less"}
	}
	n, err := p.file.Read(buffer[:min(int64(len(buffer)), p.left)])
	p.left -= int64(n)
	p.since += n
	return n, err
}

func (p *partReader) checkpoint() { p.since = 0 }

// read hands on the beginning of every element of a small part.
func (b *book) read(part string, element func(xml.StartElement)) error {
	p, err := b.open(part, maxPartBytes)
	if err != nil {
		return err
	}
	defer p.file.Close()
	for {
		token, err := p.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return broken(0, "a part", err)
		}
		p.checkpoint()
		if e, ok := token.(xml.StartElement); ok {
			element(e)
		}
	}
}

// readShared reads the texts that cells name by number. Marks of how a text is
// pronounced are no part of it.
func (b *book) readShared(part string) error {
	p, err := b.open(part, 4*maxSharedBytes)
	if err != nil {
		return err
	}
	defer p.file.Close()
	total := 0
	var text strings.Builder
	inText, spoken := false, 0
	for {
		token, err := p.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return broken(0, "the list of texts", err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			inText = e.Name.Local == "t"
			if e.Name.Local == "rPh" {
				spoken++
			}
		case xml.CharData:
			if inText && spoken == 0 {
				text.Write(e)
			}
		case xml.EndElement:
			inText = false
			switch e.Name.Local {
			case "rPh":
				spoken--
			case "si":
				p.checkpoint()
				total += text.Len()
				if len(b.shared) == maxSharedTexts || total > maxSharedBytes {
					return &malformed{got: "more shared texts than a works has", want: "at most " + size(maxSharedBytes)}
				}
				b.shared = append(b.shared, decodeEscapes(text.String()))
				text.Reset()
			}
		}
	}
}

// readStyles learns which cells hold dates, and how many digits are shown.
func (b *book) readStyles(part string) error {
	codes := map[string]string{}
	inCells := false
	return b.read(part, func(e xml.StartElement) {
		switch e.Name.Local {
		case "numFmt":
			codes[attr(e, "numFmtId")] = attr(e, "formatCode")
		case "cellXfs", "cellStyleXfs", "cellStyles", "dxfs":
			inCells = e.Name.Local == "cellXfs"
		case "xf":
			if inCells {
				id := attr(e, "numFmtId")
				b.formats = append(b.formats, formatOf(id, codes[id]))
			}
		}
	})
}

// formatAt gives the format of a cell by its style.
func (b *book) formatAt(style string) format {
	if i, err := strconv.Atoi(style); err == nil && i >= 0 && i < len(b.formats) {
		return b.formats[i]
	}
	return format{}
}
