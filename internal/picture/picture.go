// Package picture takes in what people photograph: it looks at what the bytes are, whatever anybody says of them, decodes
// them within limits, turns the picture the way it was seen, and writes it anew as JPEG, with a small one beside it. Of
// what was in the file beside the picture, where it was taken among it, nothing is written.
//
// It owns which kinds of picture and file are taken, how large they may be, and how they look when they are kept. It does
// not own where they are kept, whose they are, or how they are given out.
package picture

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"

	"golang.org/x/image/draw"
	"golang.org/x/image/webp"
)

// MaxBytes bounds what is taken, in bytes.
const MaxBytes = 10 << 20

// MaxPixels bounds a picture before it is decoded: decoding takes up to 16 bytes a pixel, however few bytes it came in.
// Phones make pictures of 12 or 24 million pixels unless they are told otherwise.
const MaxPixels = 25_000_000

const (
	maxSide       = 4096 // of what is kept, in pixels
	thumbnailSide = 320
	quality       = 88 // of JPEG, of 100
	smallQuality  = 80
)

// Why something is not taken.
var (
	ErrTooLarge      = errors.New("it has more than 10 MiB")
	ErrUnknown       = errors.New("it is neither JPEG, PNG nor WebP, and no PDF file")
	ErrTooManyPixels = errors.New("it has more than 25 million pixels")
	ErrBroken        = errors.New("it cannot be read")
)

// Taken is a picture or a file as it is to be kept.
type Taken struct {
	Content   []byte // JPEG; of a file, what was sent
	Thumbnail []byte // JPEG; nil: a file
	Width     int    // in pixels; zero: a file
	Height    int
}

// IsFile reports whether it is a file, which nobody has looked into.
func (t Taken) IsFile() bool { return t.Thumbnail == nil }

// Take takes in what was sent. Errors are those above.
func Take(raw []byte) (Taken, error) {
	if len(raw) > MaxBytes {
		return Taken{}, ErrTooLarge
	}
	if isPDF(raw) {
		return Taken{Content: raw}, nil
	}
	of, known := formOf(raw)
	if !known {
		return Taken{}, ErrUnknown
	}
	seen, err := of.look(raw)
	if err != nil {
		return Taken{}, err
	}
	full := of.orientation(raw).turn(fit(seen, maxSide))
	t := Taken{Width: full.Rect.Dx(), Height: full.Rect.Dy()}
	if t.Content, err = write(full, quality); err == nil {
		t.Thumbnail, err = write(fit(full, thumbnailSide), smallQuality)
	}
	return t, err
}

// isPDF reports whether it begins and ends as a PDF file does. What is between nobody looks at.
func isPDF(raw []byte) bool {
	const end = 1024 // how far from its end a reader looks for the mark
	return bytes.HasPrefix(raw, []byte("%PDF-")) && bytes.Contains(raw[max(0, len(raw)-end):], []byte("%%EOF"))
}

// form is a form in which pictures are sent.
type form struct {
	isOne       func(raw []byte) bool
	measure     func(raw []byte) (image.Config, error)
	decode      func(raw []byte) (image.Image, error)
	orientation func(raw []byte) orientation
}

var forms = []form{
	{
		isOne:       func(raw []byte) bool { return bytes.HasPrefix(raw, []byte("\xff\xd8\xff")) },
		measure:     func(raw []byte) (image.Config, error) { return jpeg.DecodeConfig(bytes.NewReader(raw)) },
		decode:      func(raw []byte) (image.Image, error) { return jpeg.Decode(bytes.NewReader(raw)) },
		orientation: orientationOfJPEG,
	},
	{
		isOne:       func(raw []byte) bool { return bytes.HasPrefix(raw, []byte("\x89PNG\r\n\x1a\n")) },
		measure:     func(raw []byte) (image.Config, error) { return png.DecodeConfig(bytes.NewReader(raw)) },
		decode:      func(raw []byte) (image.Image, error) { return png.Decode(bytes.NewReader(raw)) },
		orientation: orientationOfPNG,
	},
	{
		isOne: func(raw []byte) bool {
			return bytes.HasPrefix(raw, []byte("RIFF")) && len(raw) > 12 && string(raw[8:12]) == "WEBP"
		},
		measure:     func(raw []byte) (image.Config, error) { return webp.DecodeConfig(bytes.NewReader(raw)) },
		decode:      func(raw []byte) (image.Image, error) { return webp.Decode(bytes.NewReader(raw)) },
		orientation: orientationOfWebP,
	},
}

func formOf(raw []byte) (form, bool) {
	for _, f := range forms {
		if f.isOne(raw) {
			return f, true
		}
	}
	return form{}, false
}

// look decodes a picture whose size has been looked at first.
func (f form) look(raw []byte) (image.Image, error) {
	size, err := f.measure(raw)
	switch {
	case err != nil:
		return nil, fmt.Errorf("%w: %w", ErrBroken, err)
	case size.Width < 1 || size.Height < 1:
		return nil, ErrBroken
	case size.Width > MaxPixels/size.Height:
		return nil, ErrTooManyPixels
	}
	seen, err := f.decode(raw)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrBroken, err)
	}
	if b := seen.Bounds(); b.Dx() != size.Width || b.Dy() != size.Height {
		return nil, ErrBroken
	}
	return seen, nil
}

// fit draws a picture on white, smaller if it has to be so that no side is longer than a number of pixels.
func fit(seen image.Image, side int) *image.RGBA {
	from := seen.Bounds()
	width, height := from.Dx(), from.Dy()
	if longer := max(width, height); longer > side {
		width, height = max(1, width*side/longer), max(1, height*side/longer)
	}
	to := image.NewRGBA(image.Rect(0, 0, width, height))
	draw.Draw(to, to.Rect, image.NewUniform(color.White), image.Point{}, draw.Src)
	if width == from.Dx() && height == from.Dy() {
		draw.Draw(to, to.Rect, seen, from.Min, draw.Over)
	} else {
		draw.ApproxBiLinear.Scale(to, to.Rect, seen, from, draw.Over, nil)
	}
	return to
}

// write writes a picture and nothing else.
func write(p image.Image, quality int) ([]byte, error) {
	var b bytes.Buffer
	err := jpeg.Encode(&b, p, &jpeg.Options{Quality: quality})
	return b.Bytes(), err
}
