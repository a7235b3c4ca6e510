package techlog

import (
	"encoding/hex"
	"strings"
)

// ID identifies a record: a UUID, version 7, so that records sort by when they were made.
type ID [16]byte

// ParseID reads the usual written form of a UUID.
func ParseID(s string) (ID, bool) {
	var id ID
	plain := strings.ReplaceAll(s, "-", "")
	if len(s) != 36 || len(plain) != 32 {
		return id, false
	}
	_, err := hex.Decode(id[:], []byte(plain))
	return id, err == nil
}

func (id ID) String() string {
	var b [36]byte
	hex.Encode(b[:8], id[:4])
	hex.Encode(b[9:13], id[4:6])
	hex.Encode(b[14:18], id[6:8])
	hex.Encode(b[19:23], id[8:10])
	hex.Encode(b[24:], id[10:])
	b[8], b[13], b[18], b[23] = '-', '-', '-', '-'
	return string(b[:])
}

// IsZero reports whether no record is meant.
func (id ID) IsZero() bool { return id == ID{} }

// MarshalText writes the usual written form.
func (id ID) MarshalText() ([]byte, error) { return []byte(id.String()), nil }

// UnmarshalText reads the usual written form.
func (id *ID) UnmarshalText(text []byte) error {
	parsed, ok := ParseID(string(text))
	if !ok {
		return Errorf(KindInvalid, "%q is no identifier", text)
	}
	*id = parsed
	return nil
}
