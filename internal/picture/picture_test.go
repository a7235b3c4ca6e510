package picture_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/picture"
	"tiedown/internal/testrig/camera"
)

// markers lists the markers of a JPEG's segments, and fails unless it is one from its first byte to its last.
func markers(raw []byte) ([]byte, error) {
	var list []byte
	if !bytes.HasPrefix(raw, []byte("\xff\xd8")) {
		return nil, errors.New("no JPEG")
	}
	at := 2
	for at+4 <= len(raw) && raw[at] == 0xff {
		marker := raw[at+1]
		list = append(list, marker)
		at += 2 + int(binary.BigEndian.Uint16(raw[at+2:]))
		if marker != 0xda {
			continue
		}
		end := bytes.Index(raw[at:], []byte("\xff\xd9"))
		if end < 0 || at+end+2 != len(raw) {
			return list, errors.New("it does not end where its picture ends")
		}
		return list, nil
	}
	return list, errors.New("no scan")
}

// plain are the segments that a picture is made of (ITU-T T.81, table B.1): tables, frame and scan.
var plain = []byte{0xdb, 0xc0, 0xc4, 0xda}

// bare fails unless a picture decodes and has nothing beside it.
func bare(raw []byte) (image.Image, error) {
	list, err := markers(raw)
	if err != nil {
		return nil, err
	}
	for _, m := range list {
		if !slices.Contains(plain, m) {
			return nil, fmt.Errorf("segment %x is beside the picture", m)
		}
	}
	for _, secret := range camera.Secrets() {
		if bytes.Contains(raw, []byte(secret)) {
			return nil, fmt.Errorf("%q is still in it", secret)
		}
	}
	return jpeg.Decode(bytes.NewReader(raw))
}

var makers = map[string]func(width, height, orientation int) []byte{"JPEG": camera.JPEG, "PNG": camera.PNG, "WebP": camera.WebP}

// TestWhereItWasTakenIsGone holds that a photo has its place before it is taken in, and nothing beside the picture after.
func TestWhereItWasTakenIsGone(t *testing.T) {
	t.Parallel()
	for form, photograph := range makers {
		sent := photograph(640, 480, 6)
		for _, secret := range []string{camera.Latitude, camera.Maker} {
			if !bytes.Contains(sent, []byte(secret)) {
				t.Fatalf("%s: the camera has not written %q", form, secret)
			}
		}
		taken, err := picture.Take(sent)
		if err != nil {
			t.Fatalf("%s: %v", form, err)
		}
		if taken.Width != 480 || taken.Height != 640 || taken.IsFile() {
			t.Errorf("%s: %d by %d", form, taken.Width, taken.Height)
		}
		for what, kept := range map[string][]byte{"the picture": taken.Content, "the thumbnail": taken.Thumbnail} {
			seen, err := bare(kept)
			if err != nil {
				t.Errorf("%s: %s: %v", form, what, err)
				continue
			}
			if want := image.Rect(0, 0, 480, 640); what == "the picture" && seen.Bounds() != want {
				t.Errorf("%s: %v, want %v", form, seen.Bounds(), want)
			}
			if want := image.Rect(0, 0, 240, 320); what == "the thumbnail" && seen.Bounds() != want {
				t.Errorf("%s: thumbnail %v, want %v", form, seen.Bounds(), want)
			}
		}
	}
}

// corners names the colors of a picture's corners, from left to right and from top to bottom.
func corners(p image.Image) string {
	b := p.Bounds()
	name := func(x, y int) string {
		r, g, blue, _ := p.At(b.Min.X+x, b.Min.Y+y).RGBA()
		return map[[3]bool]string{
			{true, true, true}: "white", {true, false, false}: "red", {false, false, true}: "blue", {false, false, false}: "black", {true, true, false}: "yellow",
		}[[3]bool{r > 0x7fff, g > 0x7fff, blue > 0x7fff}]
	}
	w, h := b.Dx(), b.Dy()
	return strings.Join([]string{name(w/8, h/8), name(w-1-w/8, h/8), name(w/8, h-1-h/8), name(w-1-w/8, h-1-h/8)}, " ")
}

// TestPicturesStandUpright holds every way to hold a camera, as Exif 2.32 says (4.6.4, tag Orientation): where the stored
// picture's first row and first column are seen.
func TestPicturesStandUpright(t *testing.T) {
	t.Parallel()
	seen := [...]string{
		1: "white red blue black", // top, left
		2: "red white black blue", // top, right
		3: "black blue red white", // bottom, right
		4: "blue black white red", // bottom, left
		5: "white blue red black", // left, top
		6: "blue white black red", // right, top
		7: "black red blue white", // right, bottom
		8: "red black white blue", // left, bottom
	}
	for orientation := range 10 {
		want := seen[1]
		if orientation >= 1 && orientation <= 8 {
			want = seen[orientation]
		}
		for _, form := range []string{"JPEG", "PNG"} {
			taken, err := picture.Take(makers[form](80, 48, orientation))
			if err != nil {
				t.Fatal(err)
			}
			for _, raw := range [][]byte{taken.Content, taken.Thumbnail} {
				p, err := jpeg.Decode(bytes.NewReader(raw))
				if err != nil || corners(p) != want {
					t.Errorf("%s held as %d: %s, want %s (%v)", form, orientation, corners(p), want, err)
				}
			}
		}
	}
	taken, err := picture.Take(camera.WebP(80, 48, 2))
	if err != nil {
		t.Fatal(err)
	}
	if p, err := jpeg.Decode(bytes.NewReader(taken.Content)); err != nil || corners(p) != "yellow red yellow red" {
		t.Errorf("WebP: %v %v", corners(p), err)
	}
}

// claiming is a PNG of some hundred bytes that says how large it is.
func claiming(width, height uint32) []byte {
	raw := bytes.Clone(camera.PNG(8, 8, 1))
	binary.BigEndian.PutUint32(raw[16:], width)
	binary.BigEndian.PutUint32(raw[20:], height)
	binary.BigEndian.PutUint32(raw[29:], crc32.ChecksumIEEE(raw[12:29]))
	return raw
}

// TestWhatIsNotTaken tells why something is not taken. A picture that would be too large is found out before it is decoded.
func TestWhatIsNotTaken(t *testing.T) {
	t.Parallel()
	photo := camera.JPEG(64, 48, 1)
	for what, c := range map[string]struct {
		raw  []byte
		want error
	}{
		"nothing":                      {nil, picture.ErrUnknown},
		"a page":                       {[]byte("<html><script>alert(1)</script>"), picture.ErrUnknown},
		"a drawing that may have code": {[]byte(`<svg xmlns="http://www.w3.org/2000/svg"/>`), picture.ErrUnknown},
		"an animation":                 {[]byte("GIF89a\x01\x00\x01\x00"), picture.ErrUnknown},
		"a PDF file that is cut off":   {[]byte("%PDF-1.7\n1 0 obj"), picture.ErrUnknown},
		"the first bytes alone":        {photo[:3], picture.ErrBroken},
		"half a photo":                 {photo[:len(photo)/2], picture.ErrBroken},
		"a bomb":                       {claiming(60000, 60000), picture.ErrTooManyPixels},
		"one that wraps around":        {claiming(1<<31-1, 1<<31-1), picture.ErrBroken},
		"one pixel row too many":       {claiming(5000, 5001), picture.ErrTooManyPixels},
		"as large as may be, broken":   {claiming(5000, 5000), picture.ErrBroken},
		"no pixels":                    {claiming(0, 8), picture.ErrBroken},
		"too many bytes":               {append(bytes.Clone(photo), make([]byte, picture.MaxBytes)...), picture.ErrTooLarge},
	} {
		if taken, err := picture.Take(c.raw); !errors.Is(err, c.want) || taken.Content != nil {
			t.Errorf("%s: %v, want %v", what, err, c.want)
		}
	}
}

// TestAFileIsKeptAsItIs: nobody looks into it.
func TestAFileIsKeptAsItIs(t *testing.T) {
	t.Parallel()
	raw := []byte("%PDF-1.7\n" + camera.Maker + "\ntrailer\n%%EOF\n")
	taken, err := picture.Take(raw)
	if err != nil || !taken.IsFile() || !bytes.Equal(taken.Content, raw) || taken.Width != 0 || taken.Height != 0 {
		t.Errorf("%+v %v", taken, err)
	}
}

// TestLargePicturesAreMadeSmaller holds the sides of what is kept, for pictures however long and thin.
func TestLargePicturesAreMadeSmaller(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ width, height, wantWidth, wantHeight, smallWidth, smallHeight int }{
		{4097, 2, 4096, 1, 320, 1}, {5000, 3000, 4096, 2457, 320, 191}, {1, 9000, 1, 4096, 1, 320}, {300, 200, 300, 200, 300, 200}, {1, 1, 1, 1, 1, 1},
	} {
		taken, err := picture.Take(camera.JPEG(c.width, c.height, 1))
		if err != nil {
			t.Fatal(err)
		}
		small, err := jpeg.DecodeConfig(bytes.NewReader(taken.Thumbnail))
		if got := [...]int{c.width, c.height, taken.Width, taken.Height, small.Width, small.Height}; err != nil || got != [...]int{c.width, c.height, c.wantWidth, c.wantHeight, c.smallWidth, c.smallHeight} {
			t.Errorf("%v, want %v (%v)", got, c, err)
		}
	}
}

// TestWhatCannotBeSeenThroughIsWhite: JPEG knows no transparency.
func TestWhatCannotBeSeenThroughIsWhite(t *testing.T) {
	t.Parallel()
	glass := image.NewNRGBA(image.Rect(0, 0, 16, 16))
	glass.SetNRGBA(15, 15, color.NRGBA{})
	var b bytes.Buffer
	if err := png.Encode(&b, glass); err != nil {
		t.Fatal(err)
	}
	taken, err := picture.Take(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	p, err := jpeg.Decode(bytes.NewReader(taken.Content))
	if err != nil || corners(p) != "white white white white" {
		t.Errorf("%s %v", corners(p), err)
	}
}

// good reports what is wrong with something that was taken.
func good(taken picture.Taken, sent []byte) error {
	if taken.IsFile() {
		if !bytes.Equal(taken.Content, sent) || taken.Width != 0 || taken.Height != 0 {
			return errors.New("the file was changed")
		}
		return nil
	}
	full, err := bare(taken.Content)
	if err != nil {
		return fmt.Errorf("the picture: %w", err)
	}
	if b := full.Bounds(); b.Dx() != taken.Width || b.Dy() != taken.Height || max(b.Dx(), b.Dy()) > 4096 {
		return fmt.Errorf("it is %v, and said to be %d by %d", b, taken.Width, taken.Height)
	}
	small, err := bare(taken.Thumbnail)
	if err == nil && max(small.Bounds().Dx(), small.Bounds().Dy()) > 320 {
		err = fmt.Errorf("it is %v", small.Bounds())
	}
	if err != nil {
		return fmt.Errorf("the thumbnail: %w", err)
	}
	return nil
}

// TestWhateverIsSentWhatIsKeptIsBare draws pictures of all forms, sizes and ways to hold a camera, spoilt here and there.
func TestWhateverIsSentWhatIsKeptIsBare(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		form := rapid.SampledFrom([]string{"JPEG", "PNG", "WebP"}).Draw(t, "form")
		side := rapid.IntRange(1, 500)
		sent := makers[form](side.Draw(t, "width"), side.Draw(t, "height"), rapid.IntRange(0, 9).Draw(t, "orientation"))
		spoilt := rapid.IntRange(0, 3).Draw(t, "spoilt")
		for range spoilt {
			sent[rapid.IntRange(0, len(sent)-1).Draw(t, "at")] = rapid.Byte().Draw(t, "by")
		}
		taken, err := picture.Take(sent)
		if err != nil {
			if spoilt == 0 {
				t.Fatalf("a good %s: %v", form, err)
			}
			return
		}
		if err := good(taken, sent); err != nil {
			t.Fatal(err)
		}
	})
}

// FuzzTake holds that whatever is sent is refused for one of the reasons that there are, or is kept bare.
func FuzzTake(f *testing.F) {
	for _, photograph := range makers {
		for _, orientation := range []int{1, 6} {
			f.Add(photograph(9, 5, orientation))
		}
	}
	f.Add(claiming(5000, 5000))
	f.Add([]byte("%PDF-1.7\n%%EOF"))
	f.Fuzz(func(t *testing.T, sent []byte) {
		taken, err := picture.Take(sent)
		if err == nil {
			err = good(taken, sent)
		} else if slices.ContainsFunc([]error{picture.ErrBroken, picture.ErrTooLarge, picture.ErrTooManyPixels, picture.ErrUnknown}, func(known error) bool { return errors.Is(err, known) }) {
			err = nil
		}
		if err != nil {
			t.Error(err)
		}
	})
}
