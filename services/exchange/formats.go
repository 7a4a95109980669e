package exchange

import (
	"fmt"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// kindWords says how the cells of each kind are written.
var kindWords = map[Kind]string{
	Text:     "text",
	Word:     "identifier",
	Serial:   "serial",
	Date:     "date",
	Stamp:    "moment",
	Whole:    "whole number",
	Signed:   "whole number, below 0 too",
	Number:   "number",
	Measure:  "number with unit",
	Distance: "distance",
	Flag:     "yes or no",
	Choice:   "one of",
	Choices:  "list of",
	Words:    "list of identifiers",
	Lines:    "list of texts",
	Kit:      "parts with how many",
	Pack:     "shims with how many",
}

// WriteFormats describes every table and document, in Markdown, for whoever
// fills them in.
func WriteFormats() string {
	var b strings.Builder
	b.WriteString(formatsIntroduction)
	for _, t := range Tables() {
		t.describe(&b)
	}
	b.WriteString(formatsDocuments)
	for _, d := range Documents() {
		fmt.Fprintf(&b, "\n### %s\n\n%s Its name is `%s`.\n\n", d.Name, d.Doc, d.pattern)
		describeMessage(&b, d.message.Descriptor(), "", map[protoreflect.FullName]bool{})
	}
	return b.String()
}

const formatsIntroduction = `# The files that halfshaft imports and exports

This page is made from the definitions that the import itself uses, and a test keeps it so.

` + "`halfshaft import DIR|FILE...`" + ` takes CSV and XLSX for tables and YAML for documents. A CSV file, or a sheet of a workbook, is known by its name: ` + "`builds.csv`" + `, or the sheet ` + "`builds`" + `; ` + "`readings 2024`" + ` is a table of readings too. The first row that is not empty names the columns, in any order; spaces, hyphens and underscores are one, and so are upper and lower case. An unknown column is refused, and so is a sheet without one that is needed. Sheets of a workbook whose names begin with _ or # are for people and passed over, and so are empty ones; any other name that is no table's is refused.

Everything is checked before anything is written, and one report names every fault with its file, sheet, row and column. Importing the same files again changes nothing.

What an import does not speak of stays as it is recorded:

- A column that a file does not have leaves what is recorded of the records in the file; an empty cell of a column that it has clears it. A new record takes the default, and needs every column in bold; a record that is there already needs only those that tell which it is. Of lines the recorded one is that which says the same in the columns in bold.
- A table of lines of which the import has no row at all leaves the lines that its records have. One of which it has rows decides for every record in the import: a record without rows there has no lines then. So ` + "`parts.csv`" + ` can be imported without ` + "`dimensions.csv`" + `. Lines that are named in a cell are treated as any cell is.
- Some records are amended and never imported anew (builds, changes, releases, programmes and the history of a vehicle; warranty terms, claims, days out of service, bulletins and the lists of their campaigns, enquiries and notes). A row that says something else than such a record is a fault.

How cells are written:

- **date**: the year first, 2020-04-03, or the month in letters, 3 April 2020, or a date cell of a spreadsheet. 03/04/2020 is refused, because it means two days.
- **distance**: a number with mi or km: 12345.6 mi. **number with unit**: 0.10 mm; the digits written are kept. Or the number alone, and the unit in a column of its own, "value unit" (plain "unit" where only one column needs it), or in the header: "value (mi)".
- Numbers have a point and no thousands mark.
- **list**: separated by semicolons or new lines; identifiers by commas too. In a list of texts a backslash stands before a semicolon that is part of a text.
- **parts with how many**: AP-2050 x2; AP-2051. **shims with how many**: 0.25 mm x2; 0.13 mm, each with its part number where it is known: 0.25 mm x2 (AP-2074).
- **serial**: with its check character; blanks, hyphens and lower case do not matter.
- Blanks around a cell are taken off, and empty rows passed over. An apostrophe at the beginning keeps a text from being a formula (=, +, -, @) or keeps its blanks; an export writes one where it is needed, and an import takes it off.

Columns in **bold** must be filled in, where there is such a column. Those marked * make the identifier of a row that has none, so that the same row always becomes the same record. Those marked + may stay empty: the service fills them in, or they are decided later, and an empty cell clears nothing; they stand in an export so that nothing is lost.
`

const formatsDocuments = `
## Documents

Documents are YAML, one or several in a file, told apart by their name. Keys are those below; dates, distances and numbers with units are written as in a table. Anchors and aliases are refused.
`

func (t *Table) describe(b *strings.Builder) {
	fmt.Fprintf(b, "\n## %s\n\n", t.Name)
	if t.IsLine() {
		fmt.Fprintf(b, "Lines of the table %s, which must be in the same import. ", t.parent)
	}
	fmt.Fprintf(b, "%s\n\n| column | is | |\n|---|---|---|\n", t.Doc)
	for i := range t.Columns {
		c := &t.Columns[i]
		name := c.Name
		if c.Required {
			name = "**" + name + "**"
		}
		if c.Identity && strings.Contains(t.pattern, "{id}") && !t.IsLine() {
			name += " *"
		}
		if c.Given {
			name += " +"
		}
		fmt.Fprintf(b, "| %s | %s | %s |\n", name, t.kindOf(i), c.Doc)
	}
}

func (t *Table) kindOf(i int) string {
	c := &t.Columns[i]
	if c.Kind == Choices {
		return "list of: " + strings.Join(choices(t.ordered[i].last().Enum()), ", ")
	}
	if c.Kind == Choice {
		return "one of: " + strings.Join(choices(t.ordered[i].last().Enum()), ", ")
	}
	return kindWords[c.Kind]
}

// describeMessage lists the keys of a document, those within indented. A
// message that was described already is only named.
func describeMessage(b *strings.Builder, d protoreflect.MessageDescriptor, indent string, seen map[protoreflect.FullName]bool) {
	for i := range d.Fields().Len() {
		f := d.Fields().Get(i)
		if computed(f) {
			continue
		}
		kind, within := fieldWords(f)
		if f.IsList() {
			kind = "list of " + kind
		}
		fmt.Fprintf(b, "%s- `%s`: %s\n", indent, f.Name(), kind)
		if within == nil {
			continue
		}
		if seen[within.FullName()] {
			fmt.Fprintf(b, "%s  - as above\n", indent)
			continue
		}
		seen[within.FullName()] = true
		describeMessage(b, within, indent+"  ", seen)
	}
}

// fieldWords says how a field is written, and what is within it.
func fieldWords(f protoreflect.FieldDescriptor) (string, protoreflect.MessageDescriptor) {
	c := columnOf(f)
	switch {
	case c == nil:
		return "keys", f.Message()
	case c.Kind == Choice:
		return "one of: " + strings.Join(choices(f.Enum()), ", "), nil
	}
	return kindWords[c.Kind], nil
}
