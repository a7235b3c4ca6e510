package main

import (
	"bytes"
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"tiedown/internal/testrig/camera"
)

// upload adds a photo to the demo club's first squawk, and gives its identifier.
func (p *process) upload(t *testing.T, photo []byte) string {
	t.Helper()
	path := "http://" + p.addr + "/v1/squawks/" + list(t, p, "squawks")[0].ID + "/photos"
	request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, path, bytes.NewReader(photo))
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Authorization", "Bearer "+p.tokens["pilot"])
	request.Header.Set("Content-Type", "image/jpeg")
	status, body := p.do(request)
	var made struct{ ID string }
	if err := json.Unmarshal([]byte(body), &made); err != nil || status != http.StatusCreated {
		t.Fatalf("%d %s", status, body)
	}
	return made.ID
}

// TestPhotosInAFolder keeps photos beside the database, and finds out somebody who exchanges one.
func TestPhotosInAFolder(t *testing.T) {
	t.Parallel()
	dir, files := stateDir(t), t.TempDir()
	settings := []string{"TIEDOWN_STATE_DIR=" + dir, "TIEDOWN_FILES=" + files}
	p := start(t, "demo", settings...)
	id := p.upload(t, camera.JPEG(600, 400, 1))
	if status, _ := p.get("pilot", "/v1/photos/"+id); status != http.StatusOK {
		t.Errorf("the photo: %d", status)
	}
	code, out, stderr := call(t, "", []string{"audit", "verify"}, settings...)
	if code != exitOK || !strings.Contains(out, "2 pieces of content: every photo is as it was entered") {
		t.Errorf("%d %s%s", code, out, stderr)
	}
	kept, err := filepath.Glob(filepath.Join(files, "*", "*", "*"))
	if err != nil || len(kept) != 2 {
		t.Fatalf("%q %v", kept, err)
	}
	if err := os.WriteFile(kept[0], camera.JPEG(600, 400, 2), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(kept[1]); err != nil {
		t.Fatal(err)
	}
	code, out, stderr = call(t, "", []string{"audit", "verify"}, settings...)
	if code != exitFailed || !strings.Contains(out, "photo "+id+": the content is not what was entered") ||
		!strings.Contains(out, "photo "+id+": the content is missing") || !strings.Contains(out, "2 faults") {
		t.Errorf("%d %s%s", code, out, stderr)
	}
	if err := p.stop(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}

	// What was cut off days ago is gone once the program serves again; what a photo has stays.
	left := filepath.Join(filepath.Dir(kept[0]), strings.Repeat(filepath.Base(filepath.Dir(kept[0])), 32))
	if err := os.WriteFile(left, []byte("left"), 0o600); err != nil {
		t.Fatal(err)
	}
	long := time.Now().Add(-72 * time.Hour)
	for _, file := range []string{left, kept[0]} {
		if err := os.Chtimes(file, long, long); err != nil {
			t.Fatal(err)
		}
	}
	p = start(t, "demo", settings...)
	for exists(left) && t.Context().Err() == nil {
		time.Sleep(10 * time.Millisecond) // it is swept in the background
	}
	if err := p.stop(syscall.SIGTERM); err != nil || !exists(kept[0]) {
		t.Errorf("what a photo has is gone, or %v", err)
	}
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// TestFilesThatCannotBeKept: the program says so when it starts.
func TestFilesThatCannotBeKept(t *testing.T) {
	t.Parallel()
	none := filepath.Join(t.TempDir(), "none")
	for want, settings := range map[string][]string{
		"TIEDOWN_FILES:":             {"TIEDOWN_FILES=/dev/null/files"},
		"TIEDOWN_FILES_SECRET_FILE:": {"TIEDOWN_FILES=https://127.0.0.1:1/hangar", "TIEDOWN_FILES_KEY_ID=hangar", "TIEDOWN_FILES_SECRET_FILE=" + none},
	} {
		code, _, stderr := call(t, "", []string{"migrate"}, append(settings, "TIEDOWN_STATE_DIR="+stateDir(t))...)
		if code != exitFailed || !strings.Contains(stderr, want) {
			t.Errorf("%q: %d %s", settings, code, stderr)
		}
	}
}
