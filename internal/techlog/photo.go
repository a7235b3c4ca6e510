package techlog

import "time"

// PhotoType is what a photo or a file is kept and given out as.
type PhotoType string

// The types. Every picture is kept as JPEG, whatever it came as.
const (
	JPEG PhotoType = "image/jpeg"
	PDF  PhotoType = "application/pdf" // a file: it is given out to be saved, never to be shown
)

// PhotoTypes lists them.
func PhotoTypes() []PhotoType { return []PhotoType{JPEG, PDF} }

// PhotoOf is what a photo belongs to: a squawk, a result of a walkaround, or what was signed. One of them is given.
type PhotoOf struct {
	Squawk     ID
	Walkaround ID
	Result     ID // of the walkaround
	Signature  ID
}

// Photo is a photo or a file on record. Its bytes are content, kept under their digest.
type Photo struct {
	ID ID
	Of PhotoOf

	Type      PhotoType
	Digest    [32]byte // SHA-256 of the content
	Thumbnail [32]byte // of the small picture's; zero: a file, which has none
	Size      int      // of the content, in bytes
	Width     int      // in pixels, as it is seen; zero: a file
	Height    int

	At time.Time
	By string
}

// HasThumbnail reports whether there is a small picture of it.
func (p Photo) HasThumbnail() bool { return p.Thumbnail != [32]byte{} }
