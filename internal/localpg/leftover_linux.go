package localpg

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

const (
	// orderlyGrace bounds the fast shutdown of a leftover server, checkpoint included.
	orderlyGrace = 10 * time.Second
	// leftoverPoll is how often a leftover server is looked for while it shuts down.
	leftoverPoll = 20 * time.Millisecond
)

// postmaster is what a server says of itself in postmaster.pid.
type postmaster struct {
	pid   int // 0 when there is no file, or none that can be read yet
	ready bool
}

// Lines of postmaster.pid, counted from 0 (pidfile.h in PostgreSQL's source).
const (
	pidLine    = 0
	statusLine = 7
)

// readPostmaster reads a data folder's postmaster.pid. A file that is missing or half
// written is a server that is not ready.
func readPostmaster(data string) (postmaster, error) {
	content, err := os.ReadFile(pidFile(data))
	if errors.Is(err, fs.ErrNotExist) {
		return postmaster{}, nil
	}
	if err != nil {
		return postmaster{}, fmt.Errorf("read the server's state: %w", err)
	}
	lines := strings.Split(string(content), "\n")
	pid, err := strconv.Atoi(lines[pidLine])
	if err != nil {
		return postmaster{}, nil //nolint:nilerr // a record that a power cut left empty names nobody
	}
	ready := len(lines) > statusLine && strings.TrimSpace(lines[statusLine]) == "ready"
	return postmaster{pid: pid, ready: ready}, nil
}

func pidFile(data string) string {
	return filepath.Join(data, "postmaster.pid")
}

// retireLeftovers shuts down a server that an earlier process left on the data folder,
// so that this one can start its own. The caller holds the state folder's lock: whoever
// started the leftover is gone. A clean shutdown removes postmaster.pid, so without
// that file there is nothing to look for.
func retireLeftovers(ctx context.Context, data string) error {
	if _, err := os.Stat(pidFile(data)); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	recorded, err := readPostmaster(data)
	if err != nil {
		return err
	}
	left, err := serversOn(data)
	if err != nil {
		return err
	}
	left.signal(syscall.SIGINT, recorded.pid) // fast shutdown; backends without a postmaster end by themselves
	left, err = awaitGone(ctx, data, orderlyGrace)
	if err != nil {
		return err
	}
	left.signal(syscall.SIGQUIT, left.pids()...)
	left, err = awaitGone(ctx, data, quitGrace)
	if err != nil {
		return err
	}
	if len(left) > 0 {
		return fmt.Errorf("an earlier PostgreSQL still uses %s and does not end: kill its processes %v", data, left.pids())
	}
	return dropMisleadingRecord(data, recorded.pid)
}

// dropMisleadingRecord removes a postmaster.pid over which the server would refuse to
// start although nobody uses the folder: one that a power cut left empty, or one whose
// number has since gone to a living process of another kind. Any other stays, as the
// server makes its own check of what it says.
func dropMisleadingRecord(data string, pid int) error {
	if pid != 0 && syscall.Kill(pid, 0) != nil {
		return nil //nolint:nilerr // nobody of that number lives: the server will see that itself
	}
	if err := os.Remove(pidFile(data)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("remove a stale record of the server: %w", err)
	}
	return nil
}

// awaitGone waits until no server is left on the data folder, at most for the grace, and
// returns those that are.
func awaitGone(ctx context.Context, data string, grace time.Duration) (processes, error) {
	limit := time.NewTimer(grace)
	defer limit.Stop()
	poll := time.NewTicker(leftoverPoll)
	defer poll.Stop()
	for {
		left, err := serversOn(data)
		if err != nil || len(left) == 0 {
			return nil, err
		}
		select {
		case <-poll.C:
		case <-limit.C:
			return left, nil
		case <-ctx.Done():
			return nil, fmt.Errorf("wait for an earlier PostgreSQL to end: %w", context.Cause(ctx))
		}
	}
}

// processes are handles on processes found to serve one data folder. A handle stays with
// its process: a signal never goes to another that got the same number since.
type processes []*os.Process

func (ps processes) pids() []int {
	pids := make([]int, len(ps))
	for i, p := range ps {
		pids[i] = p.Pid
	}
	return pids
}

// signal sends to those of the processes that have one of the numbers.
func (ps processes) signal(sig syscall.Signal, pids ...int) {
	for _, p := range ps {
		if slices.Contains(pids, p.Pid) {
			_ = p.Signal(sig)
		}
	}
}

// serversOn finds the processes of a server on a data folder: programs named postgres
// whose working folder it is, which holds for the postmaster and for every backend.
func serversOn(data string) (processes, error) {
	folder, err := os.Stat(data)
	if err != nil {
		return nil, fmt.Errorf("look for an earlier PostgreSQL: %w", err)
	}
	entries, err := os.ReadDir("/proc")
	if err != nil {
		return nil, fmt.Errorf("look for an earlier PostgreSQL: %w", err)
	}
	var found processes
	for _, e := range entries {
		pid, err := strconv.Atoi(e.Name())
		if err != nil || !serves(pid, folder) {
			continue
		}
		// The handle is taken first and the process looked at again, so that what was
		// found is what the handle holds.
		if p, err := os.FindProcess(pid); err == nil && serves(pid, folder) {
			found = append(found, p)
		}
	}
	return found, nil
}

// serves tells whether a process is a postgres in the folder. One that cannot be looked at
// is another account's, or gone.
func serves(pid int, folder fs.FileInfo) bool {
	proc := filepath.Join("/proc", strconv.Itoa(pid))
	program, err := os.Readlink(filepath.Join(proc, "exe"))
	if err != nil {
		return false
	}
	// The kernel marks a program that has been replaced on disk, by an upgrade say.
	program = strings.TrimSuffix(program, " (deleted)")
	cwd, err := os.Stat(filepath.Join(proc, "cwd"))
	return err == nil && filepath.Base(program) == "postgres" && os.SameFile(cwd, folder)
}
