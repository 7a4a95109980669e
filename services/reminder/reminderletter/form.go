package reminderletter

// Paper is what is printed on and how it is folded.
type Paper string

// The papers. The zero value is A4.
const (
	A4       Paper = "A4"     // DIN 5008 form B, for a DL envelope with a window
	USLetter Paper = "Letter" // for a No. 10 window envelope
)

// box is a rectangle in millimetres from the sheet's top left corner.
type box struct{ x, y, w, h float64 }

func (b box) right() float64  { return b.x + b.w }
func (b box) bottom() float64 { return b.y + b.h }

// form says where things stand on a sheet, in millimetres.
type form struct {
	width, height float64
	// seen is what a window can show however the sheet slips in its envelope:
	// nothing but the address and the line above it may stand there.
	seen box
	// address holds the lines of the address, and shows however the sheet slips.
	address box
	// back holds the works' own address in small type, from its bottom up; no
	// height for none.
	back        box
	head        box     // the works' name and how to reach it
	info        box     // date, serial, reference
	text        box     // on the first sheet
	more        box     // on each further sheet
	foot        float64 // baseline of the page number
	folds       []float64
	punch       float64 // the mark for the hole punch; 0 for none
	least, most float64 // type sizes of the address, in points
}

// din5008B is DIN 5008:2020 form B on A4 (ISO 216): the address field is 85 mm
// wide and 45 mm high, 20 mm from the left edge and 45 mm from the top; its
// upper 17.7 mm are for the return address and remarks, its lower 27.3 mm for
// six lines of address, all of which begin 25 mm from the left edge; the folds
// are 105 mm and 210 mm from the top, the punch mark is in the middle, and the
// subject begins 8.46 mm below the field. Type is not below 8 points, 6 for the
// return address. (Figures as reprinted in guides to the standard.)
//
// Folded to 105 mm the sheet goes into a DL envelope (ISO 269: 220 x 110 mm)
// with the window of DIN 680: 90 x 45 mm, 20 mm from the left and 15 mm from
// the bottom. It slips 10 mm sideways and 5 mm up and down, so the window shows
// at most x 10 to 110 and y 45 to 95, and always x 20 to 100 and y 50 to 90.
var din5008B = form{
	width: 210, height: 297,
	seen:    box{10, 45, 100, 50},
	address: box{25, 62.7, 75, 27.3},
	back:    box{25, 51, 75, 11},
	head:    box{25, 15, 165, 27},
	info:    box{125, 50, 65, 40},
	text:    box{25, 98.46, 165, 297 - 98.46 - 25},
	more:    box{25, 25, 165, 297 - 25 - 25},
	foot:    297 - 13,
	folds:   []float64{105, 210},
	punch:   148.5,
	least:   8, most: 11,
}

const inch = 25.4

// no10 is the US letter sheet (8 1/2 x 11 in) folded in three for a No. 10
// envelope (9 1/2 x 4 1/8 in) with the window 4 1/2 x 1 1/8 in, 7/8 in from the
// left and 1/2 in from the bottom: common practice of envelope makers, no
// standard. The folded sheet is 3.667 in high, so it slips 1 in sideways and
// 0.458 in up and down: the window shows at most x 0 to 5.375 and y 2.042 to
// 3.625, and always x 0.875 to 4.375 and y 2.5 to 3.167. At either side 1/8 in
// is kept clear, as postal services ask for.
var no10 = form{
	width: 8.5 * inch, height: 11 * inch,
	seen:    box{0, 2.042 * inch, 5.375 * inch, (3.625 - 2.042) * inch},
	address: box{1 * inch, 2.5 * inch, 3.25 * inch, 0.667 * inch},
	head:    box{1 * inch, 0.5 * inch, 6.5 * inch, 1.4 * inch},
	info:    box{5.5 * inch, 2.1 * inch, 2.2 * inch, 1.4 * inch},
	text:    box{1 * inch, 3.8 * inch, 6.5 * inch, (11 - 3.8 - 1) * inch},
	more:    box{1 * inch, 1 * inch, 6.5 * inch, 9 * inch},
	foot:    10.5 * inch,
	folds:   []float64{11 * inch / 3, 22 * inch / 3},
	least:   8, most: 11,
}
