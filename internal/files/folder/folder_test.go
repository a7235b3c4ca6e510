package folder_test

import (
	"bytes"
	"crypto/sha256"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"tiedown/internal/files/folder"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/filestest"
)

var noon = time.Date(2021, time.May, 4, 12, 0, 0, 0, time.UTC) // long ago: what the machine itself dates is younger

func TestFolder(t *testing.T) {
	t.Parallel()
	filestest.Run(t, func(t *testing.T) filestest.Place {
		f, err := folder.Open(filepath.Join(t.TempDir(), "files"))
		if err != nil {
			t.Fatal(err)
		}
		return filestest.Place{Files: f, Orgs: [2]techlog.ID{{1}, {2}}, Later: filestest.Ticks(noon)}
	})
}

// find gives the one file below a folder.
func find(t *testing.T, root string) string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(root, "*", "*", "*"))
	if err != nil || len(files) != 1 {
		t.Fatalf("%q, %v", files, err)
	}
	return files[0]
}

// TestWhatACrashLeaves holds that half a file is mended by putting the content again, and that what was left unfinished goes.
func TestWhatACrashLeaves(t *testing.T) {
	t.Parallel()
	root := t.TempDir()
	f, err := folder.Open(root)
	if err != nil {
		t.Fatal(err)
	}
	org, content := techlog.ID{1}, []byte("whole")
	digest := sha256.Sum256(content)
	if err := f.Put(t.Context(), org, digest, content, noon); err != nil {
		t.Fatal(err)
	}
	file := find(t, root)
	if !strings.Contains(file, org.String()) {
		t.Errorf("%s does not lie with its organization", file)
	}
	if info, err := os.Stat(file); err != nil || info.Mode().Perm()&0o077 != 0 {
		t.Errorf("others may read it: %v %v", info.Mode(), err)
	}
	if err := os.WriteFile(file, []byte("who"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := f.Put(t.Context(), org, digest, content, noon); err != nil {
		t.Fatal(err)
	}
	if got, err := f.Get(t.Context(), org, digest); err != nil || !bytes.Equal(got, content) {
		t.Errorf("%q, %v", got, err)
	}
	left := filepath.Join(filepath.Dir(file), "unfinished-1")
	if err := os.WriteFile(left, []byte("wh"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Chtimes(left, noon, noon); err != nil {
		t.Fatal(err)
	}
	old, err := f.PutBefore(t.Context(), org, noon.Add(time.Hour), [32]byte{})
	if err != nil || len(old) != 1 || old[0] != digest {
		t.Errorf("%x, %v", old, err)
	}
	if find(t, root) != file {
		t.Error("the wrong file is left")
	}
}

// TestAFolderThatIsGone is the disk that is not there any more: nothing is lost in silence.
func TestAFolderThatIsGone(t *testing.T) {
	t.Parallel()
	root := filepath.Join(t.TempDir(), "files")
	f, err := folder.Open(root)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(root); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(root, nil, 0o600); err != nil { // in its place
		t.Fatal(err)
	}
	if err := f.Put(t.Context(), techlog.ID{1}, [32]byte{1}, []byte("x"), noon); techlog.KindOf(err) != techlog.KindUnavailable {
		t.Errorf("put: %v", err)
	}
	if _, err := f.Get(t.Context(), techlog.ID{1}, [32]byte{1}); techlog.KindOf(err) != techlog.KindUnavailable {
		t.Errorf("get: %v", err)
	}
}

// TestWhatIsPutWhileItIsDropped lets somebody put old content again at the moment at which it is dropped: who has put it
// finds it.
func TestWhatIsPutWhileItIsDropped(t *testing.T) {
	t.Parallel()
	f, err := folder.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	org, content := techlog.ID{1}, []byte("old, and young again")
	digest := sha256.Sum256(content)
	put := func(at time.Time) {
		if err := f.Put(t.Context(), org, digest, content, at); err != nil {
			t.Error(err)
		}
	}
	for range 500 {
		put(noon)
		var group sync.WaitGroup
		group.Go(func() { put(noon.Add(2 * time.Hour)) })
		for range 2 {
			group.Go(func() {
				if err := f.Drop(t.Context(), org, digest, noon.Add(time.Hour)); err != nil {
					t.Error(err)
				}
			})
		}
		group.Wait()
		if got, err := f.Get(t.Context(), org, digest); err != nil || !bytes.Equal(got, content) {
			t.Fatalf("%q, %v", got, err)
		}
	}
}
