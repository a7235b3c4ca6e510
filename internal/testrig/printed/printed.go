// Package printed looks at a PDF as a reader does: the text that it gives, the ink on its pages, the codes that a camera
// reads off them.
//
// It owns the running of the programs that do so (poppler's and zbar's). It does not own what a paper should say. A
// program that is missing fails the test: a paper that nobody looked at has not been tested.
package printed

import (
	"bytes"
	"fmt"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// packages says which Debian package has a program.
var packages = map[string]string{
	"pdftotext": "poppler-utils", "pdftoppm": "poppler-utils", "zbarimg": "zbar-tools", "fc-match": "fontconfig",
}

// Document is a PDF in a file of its own.
type Document struct {
	t    testing.TB
	path string
}

// Open takes a PDF.
func Open(t testing.TB, raw []byte) *Document {
	t.Helper()
	d := &Document{t, filepath.Join(t.TempDir(), "paper.pdf")}
	if err := os.WriteFile(d.path, raw, 0o600); err != nil {
		t.Fatal(err)
	}
	return d
}

// run runs a program and returns what it prints.
func (d *Document) run(program string, args ...string) string {
	d.t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		d.t.Fatalf("%s is missing: apt-get install %s", program, packages[program])
	}
	var out, said bytes.Buffer
	cmd := exec.CommandContext(d.t.Context(), program, args...)
	cmd.Stdout, cmd.Stderr = &out, &said
	if err := cmd.Run(); err != nil {
		d.t.Fatalf("%s: %v\n%s", program, err, said.String())
	}
	return out.String()
}

// Text is the text of the pages, in the order in which it was written.
func (d *Document) Text() string {
	d.t.Helper()
	return d.run("pdftotext", "-raw", "-enc", "UTF-8", d.path, "-")
}

// lookalikes are fonts with the measures of Helvetica. With any other, ink would lie where it does not lie in print.
var lookalikes = regexp.MustCompile(`Nimbus Sans|Liberation Sans|Arimo|TeX Gyre Heros|Helvetica`)

// Pages is a picture of each page, with so many dots an inch.
func (d *Document) Pages(dpi int) []*image.Gray {
	d.t.Helper()
	var pages []*image.Gray
	for _, path := range d.pictures("-gray", "-r", strconv.Itoa(dpi)) {
		pages = append(pages, d.read(path))
	}
	return pages
}

// read reads a picture in the portable graymap format: "P5", width, height and 255, each on a line or apart by a blank,
// then a byte a dot.
func (d *Document) read(path string) *image.Gray {
	d.t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		d.t.Fatal(err)
	}
	var width, height, white int
	if _, err := fmt.Fscanf(bytes.NewReader(raw), "P5\n%d %d\n%d\n", &width, &height, &white); err != nil || white != 255 || len(raw) < width*height {
		d.t.Fatalf("%s is no graymap: %v", filepath.Base(path), err)
	}
	return &image.Gray{Pix: raw[len(raw)-width*height:], Stride: width, Rect: image.Rect(0, 0, width, height)}
}

// pictures draws pages, each into a file.
func (d *Document) pictures(args ...string) []string {
	d.t.Helper()
	if font := d.run("fc-match", "Helvetica"); !lookalikes.MatchString(font) {
		d.t.Fatalf("no font with the measures of Helvetica, only %s: apt-get install fonts-urw-base35", strings.TrimSpace(font))
	}
	prefix := filepath.Join(d.t.TempDir(), "page")
	d.run("pdftoppm", append(args, d.path, prefix)...)
	paths, err := filepath.Glob(prefix + "*")
	if err != nil || len(paths) == 0 {
		d.t.Fatalf("no page was drawn: %v", err)
	}
	slices.Sort(paths) // poppler pads the numbers of pages
	return paths
}

// Area is a part of a page, in mm from its upper left corner.
type Area struct{ X, Y, W, H float64 }

// Code is what the QR code in a part of a page says. Pages count from 1. It is read off a picture with 600 dots an inch,
// as most printers have, or less for a large part.
func (d *Document) Code(page int, in Area) string {
	d.t.Helper()
	dpi := min(600, int(1200/(in.W/25.4)))
	dots := func(mm float64) string { return strconv.Itoa(int(mm * float64(dpi) / 25.4)) }
	n := strconv.Itoa(page)
	pictures := d.pictures("-png", "-f", n, "-l", n, "-r", strconv.Itoa(dpi), "-x", dots(in.X), "-y", dots(in.Y), "-W", dots(in.W), "-H", dots(in.H))
	return strings.TrimSuffix(d.run("zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", pictures[0]), "\n")
}
