package localpg

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// acquire takes the lock on a state folder and writes this process's id into it. The
// kernel frees the lock when the process ends, however it ends, so it is never stale.
// The file is closed on exec: no server inherits the lock.
func acquire(path string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, fmt.Errorf("lock the state folder: %w", err)
	}
	if err := lockFile(f); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

func lockFile(f *os.File) error {
	err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return inUse(f)
	}
	if err != nil {
		return fmt.Errorf("lock %s: %w", f.Name(), err)
	}
	if err := f.Truncate(0); err != nil {
		return fmt.Errorf("lock the state folder: %w", err)
	}
	if _, err := f.WriteAt(fmt.Appendln(nil, os.Getpid()), 0); err != nil {
		return fmt.Errorf("lock the state folder: %w", err)
	}
	return nil
}

// inUse says who holds the lock. The holder writes its id just after it takes the lock,
// so for an instant there may be none to read.
func inUse(f *os.File) error {
	holder := "another process"
	if content, err := io.ReadAll(f); err == nil {
		if pid := strings.TrimSpace(string(content)); pid != "" {
			holder = "process " + pid
		}
	}
	return fmt.Errorf("the state folder %s is %w by %s: stop that process, or choose another state folder",
		filepath.Dir(filepath.Dir(f.Name())), ErrInUse, holder)
}
