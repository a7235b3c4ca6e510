package audit

import (
	"encoding/base64"
	"errors"
	"strconv"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/tlog"
)

// Entry is what the log says of one record: that it was so, when, and by whom it was made so.
type Entry struct {
	Organization string
	At           time.Time // of the change, to the microsecond
	By           string    // who made it, in words
	Table        string
	Key          string // what names the record in its table
	Version      int    // of a record that changes, from 1; 0: it never does
	Digest       [32]byte
}

const entryTitle = "tiedown entry"

// Text is the entry's one written form, and the leaf of the tree. Its place in the log is not in it: the tree has that.
func (e Entry) Text() string {
	return entryTitle + "\n" +
		"organization " + Text(e.Organization) + "\n" +
		"at " + Instant(e.At) + "\n" +
		"by " + Text(e.By) + "\n" +
		"table " + Text(e.Table) + "\n" +
		"key " + Text(e.Key) + "\n" +
		"version " + Integer(int64(e.Version)) + "\n" +
		"digest " + Bytes(e.Digest[:]) + "\n"
}

// Hash is the hash of the leaf.
func (e Entry) Hash() Hash { return tlog.RecordHash([]byte(e.Text())) }

var errEntry = errors.New("it is not as an entry is written")

// ParseEntry reads the text of an entry, and takes nothing but what Text writes.
func ParseEntry(text string) (Entry, error) {
	lines := strings.Split(text, "\n")
	names := []string{"organization", "at", "by", "table", "key", "version", "digest"}
	if len(lines) != len(names)+2 {
		return Entry{}, errEntry
	}
	values := make([]string, len(names))
	for i, name := range names {
		value, ok := strings.CutPrefix(lines[i+1], name+" ")
		if !ok {
			return Entry{}, errEntry
		}
		values[i] = value
	}
	var e Entry
	for i, into := range []*string{&e.Organization, nil, &e.By, &e.Table, &e.Key} {
		if into == nil {
			continue
		}
		var err error
		if *into, err = unquote(values[i]); err != nil {
			return Entry{}, errEntry
		}
	}
	var err error
	if e.At, err = time.Parse(instantLayout, strings.Trim(values[1], `"`)); err != nil {
		return Entry{}, errEntry
	}
	if e.Version, err = strconv.Atoi(values[5]); err != nil {
		return Entry{}, errEntry
	}
	digest, err := base64.StdEncoding.DecodeString(strings.Trim(values[6], `"`))
	if err != nil || len(digest) != len(e.Digest) {
		return Entry{}, errEntry
	}
	e.Digest = [32]byte(digest)
	if e.Text() != text { // whatever else could be read as this entry
		return Entry{}, errEntry
	}
	return e, nil
}

// unquote reads a text that Text wrote.
func unquote(s string) (string, error) {
	if len(s) < 2 || s[0] != '"' || s[len(s)-1] != '"' {
		return "", errEntry
	}
	var b strings.Builder
	for s = s[1 : len(s)-1]; s != ""; {
		i := strings.IndexByte(s, '\\')
		if i < 0 {
			b.WriteString(s)
			break
		}
		b.WriteString(s[:i])
		switch s = s[i+1:]; {
		case s == "":
			return "", errEntry
		case s[0] == 'u' && len(s) >= 5:
			r, err := strconv.ParseUint(s[1:5], 16, 16)
			if err != nil {
				return "", errEntry
			}
			b.WriteRune(rune(r))
			s = s[5:]
		default:
			b.WriteByte(s[0])
			s = s[1:]
		}
	}
	return b.String(), nil
}
