package remindertext

import (
	"strings"
	"unicode/utf16"
)

// The encodings of a text message (3GPP TS 23.038 section 6.2).
const (
	GSM7 = "GSM-7" // the default alphabet: septets
	UCS2 = "UCS-2" // everything else: UTF-16 code units
)

// The default alphabet (3GPP TS 23.038 section 6.2.1), row by row, without the
// escape at 0x1B, and what stands behind an escape (section 6.2.1.1).
const (
	alphabet = "@£$¥èéùìòÇ\nØø\rÅå" +
		"Δ_ΦΓΛΩΠΨΣΘΞÆæßÉ" +
		" !\"#¤%&'()*+,-./" +
		"0123456789:;<=>?" +
		"¡ABCDEFGHIJKLMNO" +
		"PQRSTUVWXYZÄÖÑÜ§" +
		"¿abcdefghijklmno" +
		"pqrstuvwxyzäöñüà"
	extension = "\f^{}\\[~]|€"
)

// A message carries 140 octets: 160 septets or 70 code units. In each part of
// a longer one a header of six octets says which part it is, which leaves 153
// or 67 (3GPP TS 23.040 section 9.2.3.24.1).
const (
	oneGSM, partGSM   = 160, 153
	oneUCS2, partUCS2 = 70, 67
)

// Segments gives how many messages the network makes of a text, 0 for an
// empty one, and in which encoding. A character of the extension table is two
// septets and one beyond the basic plane two code units; neither is parted.
func Segments(text string) (n int, encoding string) {
	text = strings.ToValidUTF8(text, "\uFFFD")
	one, part, encoding, widths := oneGSM, partGSM, GSM7, []int{}
	for _, r := range text {
		w := gsmWidth(r)
		if w == 0 {
			one, part, encoding = oneUCS2, partUCS2, UCS2
			break
		}
		widths = append(widths, w)
	}
	if encoding == UCS2 {
		widths = widths[:0]
		for _, r := range text {
			widths = append(widths, utf16.RuneLen(r))
		}
	}
	return count(widths, one, part), encoding
}

// gsmWidth is how many septets a character takes, 0 when it has none.
func gsmWidth(r rune) int {
	switch {
	case strings.ContainsRune(alphabet, r):
		return 1
	case strings.ContainsRune(extension, r):
		return 2
	}
	return 0
}

// count fills segments with characters that are not parted.
func count(widths []int, one, part int) int {
	total := 0
	for _, w := range widths {
		total += w
	}
	if total <= one {
		return min(total, 1)
	}
	n, used := 1, 0
	for _, w := range widths {
		if used+w > part {
			n, used = n+1, 0
		}
		used += w
	}
	return n
}
