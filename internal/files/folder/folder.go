// Package folder keeps content in a folder: a file under its digest, in a folder for each organization.
//
// It owns names and places of files, and that a file is there whole or not at all. It does not own what content is, nor
// when it goes.
package folder

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// Folder keeps content. Several programs may share one.
type Folder struct{ root string }

var _ hangar.Files = Folder{}

// Open makes the folder if it is missing, for its owner alone.
func Open(root string) (Folder, error) {
	err := os.MkdirAll(root, 0o700)
	return Folder{root}, err
}

// place is root/organization/first two digits/digest, in hexadecimal.
func (f Folder) place(org techlog.ID, digest [32]byte) string {
	name := hex.EncodeToString(digest[:])
	return filepath.Join(f.root, org.String(), name[:2], name)
}

// Put implements hangar.Files. Content is written beside its place and moved there when it is on the disk: also when it is
// there, as what was half lost in a crash is mended so.
func (f Folder) Put(ctx context.Context, org techlog.ID, digest [32]byte, content []byte, at time.Time) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	place := f.place(org, digest)
	if there, err := os.ReadFile(place); err == nil && bytes.Equal(there, content) {
		if err = os.Chtimes(place, time.Time{}, at); err == nil {
			_, err = os.Stat(place) // still there with its new age, whoever drops it now finds that
		}
		if !errors.Is(err, fs.ErrNotExist) { // else it was being dropped: it is written anew
			return unavailable(err)
		}
	}
	if err := os.MkdirAll(filepath.Dir(place), 0o700); err != nil {
		return unavailable(err)
	}
	made, err := os.CreateTemp(filepath.Dir(place), unfinished+"*")
	if err != nil {
		return unavailable(err)
	}
	defer os.Remove(made.Name()) //nolint:errcheck // it has moved, or is of no use
	_, err = made.Write(content)
	err = errors.Join(err, made.Sync(), made.Close(), os.Chtimes(made.Name(), time.Time{}, at))
	if err == nil {
		err = os.Rename(made.Name(), place)
	}
	if err == nil {
		err = syncFolder(filepath.Dir(place))
	}
	return unavailable(err)
}

// unfinished begins the names of files that are being written.
const unfinished = "unfinished-"

// syncFolder makes a name that was added to a folder outlive a crash.
func syncFolder(path string) error {
	dir, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(dir.Sync(), dir.Close())
}

// Get implements hangar.Files.
func (f Folder) Get(ctx context.Context, org techlog.ID, digest [32]byte) ([]byte, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	content, err := os.ReadFile(f.place(org, digest))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, techlog.Errorf(techlog.KindNotFound, "there is no such content")
	}
	return content, unavailable(err)
}

// PutBefore implements hangar.Files: it lists the first of 256 folders that has some.
func (f Folder) PutBefore(ctx context.Context, org techlog.ID, at time.Time, after [32]byte) ([][32]byte, error) {
	for first := int(after[0]); first < 256; first++ {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		old, err := putBefore(filepath.Join(f.root, org.String(), fmt.Sprintf("%02x", first)), at, after)
		if err != nil || len(old) > 0 {
			return old, unavailable(err)
		}
	}
	return nil, nil
}

// putBefore looks through one folder. What was left unfinished as long ago is nobody's, and is taken away.
func putBefore(dir string, at time.Time, after [32]byte) (old [][32]byte, err error) {
	entries, err := os.ReadDir(dir) // in the order of the names
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	for _, e := range entries {
		info, missing := e.Info()
		if missing != nil || !info.ModTime().Before(at) {
			continue
		}
		if strings.HasPrefix(e.Name(), unfinished) {
			err = errors.Join(err, gone(os.Remove(filepath.Join(dir, e.Name()))))
			continue
		}
		raw, foreign := hex.DecodeString(e.Name())
		if foreign != nil || len(raw) != 32 || slices.Compare(raw, after[:]) <= 0 {
			continue
		}
		old = append(old, [32]byte(raw))
	}
	return old, err
}

// Drop implements hangar.Files. The file is moved aside before its age is looked at for good: whoever puts the content again
// has made it young before that, and it is moved back, or finds it missing, and writes it.
func (f Folder) Drop(ctx context.Context, org techlog.ID, digest [32]byte, before time.Time) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	place := f.place(org, digest)
	info, err := os.Stat(place)
	if err != nil || !info.ModTime().Before(before) {
		return unavailable(gone(err))
	}
	return unavailable(drop(place, before))
}

func drop(place string, before time.Time) error {
	aside, err := os.CreateTemp(filepath.Dir(place), unfinished+"*") // a name that nobody else has
	if err != nil {
		return err
	}
	defer os.Remove(aside.Name()) //nolint:errcheck // this is what drops it
	if err := aside.Close(); err != nil {
		return err
	}
	if err := os.Rename(place, aside.Name()); err != nil {
		return gone(err)
	}
	info, err := os.Stat(aside.Name())
	if err != nil || info.ModTime().Before(before) {
		return err
	}
	if err := os.Link(aside.Name(), place); !errors.Is(err, fs.ErrExist) { // else it has been written anew
		return err
	}
	return nil
}

// gone is no error when a file is not there.
func gone(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

func unavailable(err error) error {
	if err == nil {
		return nil
	}
	return &techlog.Error{Kind: techlog.KindUnavailable, Says: "the files cannot be reached", Cause: err}
}
