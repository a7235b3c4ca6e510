package picture

import (
	"bytes"
	"encoding/binary"
	"image"
)

// orientation is how a camera was held, as Exif 2.32 has it (tag 0112): 1 upright, 2 to 8 otherwise. Anything else is taken
// for 1.
type orientation int

const upright orientation = 1

// turn turns a picture the way it was seen.
func (o orientation) turn(p *image.RGBA) *image.RGBA {
	if o <= upright || o > 8 {
		return p
	}
	w, h := p.Rect.Dx(), p.Rect.Dy()
	size := image.Rect(0, 0, w, h)
	if o >= 5 {
		size = image.Rect(0, 0, h, w)
	}
	turned := image.NewRGBA(size)
	for y := range size.Dy() {
		for x := range size.Dx() {
			fromX, fromY := o.from(x, y, w, h)
			copy(turned.Pix[turned.PixOffset(x, y):][:4], p.Pix[p.PixOffset(fromX, fromY):][:4])
		}
	}
	return turned
}

// from tells where a pixel of the turned picture is in the one that was stored, which is w by h.
func (o orientation) from(x, y, w, h int) (int, int) {
	switch o {
	case 2:
		return w - 1 - x, y
	case 3:
		return w - 1 - x, h - 1 - y
	case 4:
		return x, h - 1 - y
	case 5:
		return y, x
	case 6:
		return y, h - 1 - x
	case 7:
		return w - 1 - y, h - 1 - x
	case 8:
		return w - 1 - y, x
	default:
		return x, y
	}
}

var exifMark = []byte("Exif\x00\x00")

// orientationOfJPEG reads it out of the segment APP1 that has Exif in it.
func orientationOfJPEG(raw []byte) orientation {
	const startOfScan, app1 = 0xda, 0xe1
	for at := 2; at+4 <= len(raw) && raw[at] == 0xff; {
		marker := raw[at+1]
		if marker == 0xff { // fills up
			at++
			continue
		}
		length := int(binary.BigEndian.Uint16(raw[at+2:]))
		if marker == startOfScan || length < 2 || at+2+length > len(raw) {
			break
		}
		if segment := raw[at+4 : at+2+length]; marker == app1 && bytes.HasPrefix(segment, exifMark) {
			return orientationOfTIFF(segment[len(exifMark):])
		}
		at += 2 + length
	}
	return upright
}

// orientationOfPNG reads it out of the chunk eXIf.
func orientationOfPNG(raw []byte) orientation {
	const head, sum = 8, 4
	for at := head; at+8 <= len(raw); {
		length := int(binary.BigEndian.Uint32(raw[at:]))
		if length > len(raw)-at-8 {
			break
		}
		if string(raw[at+4:at+8]) == "eXIf" {
			return orientationOfTIFF(raw[at+8 : at+8+length])
		}
		at += 8 + length + sum
	}
	return upright
}

// orientationOfWebP reads it out of the chunk EXIF.
func orientationOfWebP(raw []byte) orientation {
	const head = 12
	for at := head; at+8 <= len(raw); {
		length := int(binary.LittleEndian.Uint32(raw[at+4:]))
		if length > len(raw)-at-8 {
			break
		}
		if string(raw[at:at+4]) == "EXIF" {
			return orientationOfTIFF(bytes.TrimPrefix(raw[at+8:at+8+length], exifMark))
		}
		at += 8 + length + length%2
	}
	return upright
}

// orientationOfTIFF reads the tag out of the first directory of Exif data.
func orientationOfTIFF(raw []byte) orientation {
	const tag, short, entry = 0x0112, 3, 12
	if len(raw) < 8 {
		return upright
	}
	var order binary.ByteOrder
	switch string(raw[:4]) {
	case "II*\x00":
		order = binary.LittleEndian
	case "MM\x00*":
		order = binary.BigEndian
	default:
		return upright
	}
	first := order.Uint32(raw[4:])
	if uint64(first)+2 > uint64(len(raw)) {
		return upright
	}
	directory := raw[first:]
	entries := directory[2:]
	for range order.Uint16(directory) {
		if len(entries) < entry {
			break
		}
		if order.Uint16(entries) == tag && order.Uint16(entries[2:]) == short {
			return orientation(order.Uint16(entries[8:]))
		}
		entries = entries[entry:]
	}
	return upright
}
