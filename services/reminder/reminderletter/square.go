package reminderletter

import "github.com/boombuler/barcode/qr"

// codeSide is how wide and high a square is, in millimetres: with some sixty
// modules in it each is wider than half a millimetre, which any telephone's camera
// reads from a hand's breadth away. The letter's margin and the space around are
// the four modules of white that it needs (ISO/IEC 18004, from memory).
const codeSide = 34.0

// square draws what a text says as a QR code.
func (p *printer) square(x, y float64, text string) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		p.pdf.SetError(err)
		return
	}
	n := code.Bounds().Dx()
	side := codeSide / float64(n)
	p.pdf.SetFillColor(0, 0, 0)
	for row := range n {
		for from := 0; from < n; from++ {
			to := from
			for to < n && dark(code.At(to, row).RGBA()) {
				to++
			}
			if to > from { // one bar for all that touch, so that no hair shows between
				p.pdf.Rect(x+float64(from)*side, y+float64(row)*side, float64(to-from)*side, side, "F")
				from = to
			}
		}
	}
}

func dark(r, _, _, _ uint32) bool { return r < 0x8000 }
