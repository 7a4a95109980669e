package photograph

import (
	"bytes"
	"encoding/binary"
)

// The markers of a JPEG file that matter here (ITU-T T.81, B.1.1.3).
const (
	markerStart       = 0xd8 // SOI
	markerScan        = 0xda // SOS: pixels follow
	markerProgressive = 0xc2 // SOF2
	markerApp1        = 0xe1 // EXIF stands in one
)

// segments calls each for the segments of a JPEG file before its pixels, until
// it has enough.
func segments(content []byte, each func(marker byte, body []byte) (enough bool)) {
	if len(content) < 2 || content[0] != 0xff || content[1] != markerStart {
		return
	}
	for rest := content[2:]; len(rest) >= 4 && rest[0] == 0xff; {
		marker := rest[1]
		if marker == 0xff { // a byte that fills up
			rest = rest[1:]
			continue
		}
		length := int(binary.BigEndian.Uint16(rest[2:4]))
		if marker == markerScan || length < 2 || 2+length > len(rest) {
			return
		}
		if each(marker, rest[4:2+length]) {
			return
		}
		rest = rest[2+length:]
	}
}

// progressive reports whether a JPEG file is coded in several passes.
func progressive(content []byte) (yes bool) {
	segments(content, func(marker byte, _ []byte) bool {
		yes = marker == markerProgressive
		return yes
	})
	return yes
}

// orientation gives how a picture is to be turned to stand upright: 1 to 8, and
// 1 where the file says nothing that can be understood.
func orientation(format string, content []byte) int {
	out := 1
	if format == "png" {
		return tiffOrientation(pngExif(content))
	}
	segments(content, func(marker byte, body []byte) bool {
		tiff, ok := bytes.CutPrefix(body, []byte("Exif\x00\x00"))
		if marker != markerApp1 || !ok {
			return false
		}
		out = tiffOrientation(tiff)
		return true
	})
	return out
}

// pngExif gives the EXIF data of a PNG file, which stands in a chunk eXIf; nil
// for none. A chunk is its length, four letters, its content, and a checksum.
func pngExif(content []byte) []byte {
	const signature, frame = 8, 12
	for rest := content[min(signature, len(content)):]; len(rest) >= frame; {
		length := binary.BigEndian.Uint32(rest)
		if uint64(length)+frame > uint64(len(rest)) {
			return nil
		}
		if string(rest[4:8]) == "eXIf" {
			return rest[8 : 8+length]
		}
		rest = rest[frame+length:]
	}
	return nil
}

// The orientation in the first directory of EXIF data, which is a TIFF header
// and directories of entries of twelve bytes (TIFF 6.0, section 2).
const (
	tagOrientation = 0x0112
	typeShort      = 3
	entryBytes     = 12
)

func tiffOrientation(tiff []byte) int {
	var order binary.ByteOrder
	switch {
	case len(tiff) < 8:
		return 1
	case string(tiff[:4]) == "II*\x00":
		order = binary.LittleEndian
	case string(tiff[:4]) == "MM\x00*":
		order = binary.BigEndian
	default:
		return 1
	}
	at := uint64(order.Uint32(tiff[4:8]))
	if at+2 > uint64(len(tiff)) {
		return 1
	}
	entries := tiff[at+2:]
	for range order.Uint16(tiff[at : at+2]) {
		if len(entries) < entryBytes {
			return 1
		}
		if order.Uint16(entries) == tagOrientation && order.Uint16(entries[2:]) == typeShort {
			if o := int(order.Uint16(entries[8:])); o >= 1 && o <= 8 {
				return o
			}
			return 1
		}
		entries = entries[entryBytes:]
	}
	return 1
}
