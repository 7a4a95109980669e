package typeset

import (
	"bytes"
	"fmt"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// printedOn stands in a file's properties: a real date would make other bytes
// of the same document.
var printedOn = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// NewFile begins a PDF of sheets of a size in millimetres, in which everything
// is placed by hand. The same pages give the same bytes.
func NewFile(width, height float64, title string) *fpdf.Fpdf {
	pdf := fpdf.NewCustom(&fpdf.InitType{
		OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: width, Ht: height},
	})
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(printedOn)
	pdf.SetModificationDate(printedOn)
	pdf.SetProducer("halfshaft", true)
	pdf.SetTitle(title, true)
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(0, 0, 0)
	return pdf
}

// Bytes ends a PDF; what says what it is, in an error.
func Bytes(pdf *fpdf.Fpdf, what string) ([]byte, error) {
	var b bytes.Buffer
	if err := pdf.Output(&b); err != nil {
		return nil, fmt.Errorf("write %s: %w", what, err)
	}
	return b.Bytes(), nil
}
