// Package camera makes photos as cameras do: with how they were held, where they were, and whatever else cameras write
// beside the picture.
//
// It owns the forms in which tests send pictures, and what must never be found in a picture that is kept. It does not own
// how pictures are taken in.
package camera

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
)

// Latitude is where every photo of this package was taken, as it stands in it: three fractions of degrees, minutes and
// seconds, which spell a text that nothing else has.
const Latitude = "\x00\x00\x00\x2dLAT:\x00\x00\x00\x07LAT:\x00\x00\x00\x1fLAT:"

// Maker stands in every photo, in more than one place.
const Maker = "Invented Camera Works"

// Secrets are what must not be found in a picture that is kept.
func Secrets() []string {
	return []string{Latitude, "LAT:", Maker, "Exif", "<x:xmpmeta", "ICC_PROFILE", "Photoshop", "a word in passing"}
}

// scene is a picture that differs in every corner: white, red, blue and black, from left to right and from top to bottom.
func scene(width, height int) *image.RGBA {
	p := image.NewRGBA(image.Rect(0, 0, width, height))
	corners := [...]color.RGBA{{255, 255, 255, 255}, {255, 0, 0, 255}, {0, 0, 255, 255}, {0, 0, 0, 255}}
	for y := range height {
		for x := range width {
			p.SetRGBA(x, y, corners[2*(2*y/height)+2*x/width])
		}
	}
	return p
}

// JPEG is a photo of a scene whose corners are white, red, blue and black as they are stored. orientation is how the camera
// was held, from 1 to 8.
func JPEG(width, height, orientation int) []byte {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, scene(width, height), &jpeg.Options{Quality: 95}); err != nil {
		panic(err) // of a buffer in memory
	}
	plain := b.Bytes()
	var beside []byte
	for _, s := range []struct {
		marker byte
		body   string
	}{
		{0xe1, "Exif\x00\x00" + exif(orientation)},
		{0xe1, "http://ns.adobe.com/xap/1.0/\x00<x:xmpmeta>" + Maker + Latitude + "</x:xmpmeta>"},
		{0xe2, "ICC_PROFILE\x00\x01\x01" + Maker},
		{0xed, "Photoshop 3.0\x008BIM" + Latitude},
		{0xfe, "a word in passing, " + Maker},
	} {
		beside = append(beside, 0xff, s.marker)
		beside = binary.BigEndian.AppendUint16(beside, uint16(len(s.body)+2))
		beside = append(beside, s.body...)
	}
	return bytes.Join([][]byte{plain[:2], beside, plain[2:], []byte("after the end: " + Maker + Latitude)}, nil)
}

// PNG is the same scene as PNG.
func PNG(width, height, orientation int) []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, scene(width, height)); err != nil {
		panic(err)
	}
	const head = 8 + 25 // signature and IHDR
	plain := b.Bytes()
	return bytes.Join([][]byte{
		plain[:head], chunk("eXIf", exif(orientation)), chunk("tEXt", "Comment\x00a word in passing, "+Maker), plain[head:],
	}, nil)
}

func chunk(name, body string) []byte {
	c := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
	c = append(c, name+body...)
	return binary.BigEndian.AppendUint32(c, crc32.ChecksumIEEE(c[4:]))
}

// WebP is a lossless WebP (RFC 9649) whose left half is red and whose right half is yellow, as they are stored. No side is
// longer than 16,384 pixels.
func WebP(width, height, orientation int) []byte {
	var w bits
	w.put(0x2f, 8)
	w.put(width-1, 14)
	w.put(height-1, 14)
	w.put(0, 1+3+1+1+1) // no alpha, version 0, no transform, no color cache, one group of prefix codes
	two := func(a, b int) { w.put(1, 1); w.put(1, 1); w.put(1, 1); w.put(a, 8); w.put(b, 8) }
	one := func(a int) { w.put(1, 1); w.put(0, 1); w.put(1, 1); w.put(a, 8) }
	two(0, 255)     // green
	one(255)        // red
	one(0)          // blue
	one(255)        // alpha
	w.put(0b001, 3) // distance: one symbol of one bit
	w.put(0, 1)
	for range height {
		for x := range width {
			w.put(2*x/width, 1)
		}
	}
	const withExif = 1 << 3
	var extended []byte
	extended = append(extended, withExif, 0, 0, 0)
	extended = append(extended, byte(width-1), byte((width-1)>>8), byte((width-1)>>16), byte(height-1), byte((height-1)>>8), byte((height-1)>>16))
	body := "WEBP" + riff("VP8X", string(extended)) + riff("VP8L", string(w.out)) + riff("EXIF", exif(orientation))
	return []byte(riff("RIFF", body))
}

func riff(name, body string) string {
	c := string(binary.LittleEndian.AppendUint32([]byte(name), uint32(len(body)))) + body
	if len(body)%2 == 1 {
		c += "\x00"
	}
	return c
}

// bits writes numbers, the least bit first.
type bits struct {
	out []byte
	n   int
}

func (b *bits) put(v, n int) {
	for i := range n {
		if b.n%8 == 0 {
			b.out = append(b.out, 0)
		}
		b.out[b.n/8] |= byte(v>>i&1) << (b.n % 8)
		b.n++
	}
}

// exif is Exif data as TIFF: how the camera was held, who made it, and where it was.
func exif(orientation int) string {
	const short, long, ascii, rational = 3, 4, 2, 5
	const first = 8
	const gps = first + 2 + 3*12 + 4
	const maker = gps + 2 + 2*12 + 4
	b := []byte("MM\x00*\x00\x00\x00\x08")
	u16 := func(v int) { b = binary.BigEndian.AppendUint16(b, uint16(v)) }
	u32 := func(v int) { b = binary.BigEndian.AppendUint32(b, uint32(v)) }
	field := func(tag, kind, count, value int) { u16(tag); u16(kind); u32(count); u32(value) }
	u16(3)
	field(0x010f, ascii, len(Maker), maker)
	field(0x0112, short, 1, orientation<<16)
	field(0x8825, long, 1, gps)
	u32(0)
	u16(2)
	field(1, ascii, 2, 'N'<<24)
	field(2, rational, 3, maker+len(Maker))
	u32(0)
	return string(b) + Maker + Latitude
}
