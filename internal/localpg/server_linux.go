package localpg

import (
	"context"
	"fmt"
	"io"
	"os/exec"
	"runtime"
	"sync"
	"syscall"
	"time"
)

const (
	// readyPoll is how often a starting server is asked whether it is ready; it writes
	// its state to a file and tells nobody.
	readyPoll = 5 * time.Millisecond
	// quitGrace bounds an immediate shutdown, which has next to nothing to do.
	quitGrace = 5 * time.Second
)

// server is a running postgres that this process started.
type server struct {
	cmd  *exec.Cmd
	log  *tail
	done chan struct{} // closed when the process has ended
	err  error         // how it ended; read after done
}

// launch starts the server. Should this process be killed, the kernel asks the server for
// a fast shutdown. The kernel binds that request to the thread that started the server,
// so one thread is held for the server's whole life.
func launch(pg installation, args []string) (*server, error) {
	// The caller's context bounds the start, not the server's life.
	cmd := pg.command(context.Background(), "postgres", args...)
	cmd.SysProcAttr.Pdeathsig = syscall.SIGINT
	s := &server{cmd: cmd, log: &tail{next: pg.log}, done: make(chan struct{})}
	cmd.Stdout, cmd.Stderr = s.log, s.log

	started := make(chan error)
	go func() {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()

		err := cmd.Start()
		started <- err
		if err == nil {
			s.err = cmd.Wait()
			close(s.done)
		}
	}()
	if err := <-started; err != nil {
		return nil, fmt.Errorf("start PostgreSQL: %w", err)
	}
	return s, nil
}

// awaitReady returns when the server accepts connections, and fails when it ends instead
// or the context does.
func (s *server) awaitReady(ctx context.Context, data string) error {
	poll := time.NewTicker(readyPoll)
	defer poll.Stop()
	for {
		state, err := readPostmaster(data)
		if err != nil {
			return err
		}
		if state.pid == s.cmd.Process.Pid && state.ready {
			return nil
		}
		select {
		case <-poll.C:
		case <-s.done:
			return fmt.Errorf("PostgreSQL did not start: %w", s.failure())
		case <-ctx.Done():
			return fmt.Errorf("PostgreSQL was not ready in time: %w\n%s", context.Cause(ctx), s.log)
		}
	}
}

// failure describes how an ended server ended, with the last it said.
func (s *server) failure() error {
	if s.err == nil {
		return fmt.Errorf("it ended of its own accord\n%s", s.log)
	}
	return fmt.Errorf("%w\n%s", s.err, s.log)
}

// shutdown ends the server: in order while the context lasts, at once when it does not.
func (s *server) shutdown(ctx context.Context) error {
	s.signal(syscall.SIGINT) // fast shutdown
	select {
	case <-s.done:
	case <-ctx.Done():
		s.halt()
		return fmt.Errorf("PostgreSQL had to be stopped at once: %w", context.Cause(ctx))
	}
	if s.err != nil {
		return fmt.Errorf("PostgreSQL did not end cleanly: %w", s.failure())
	}
	return nil
}

// halt ends the server at once and returns when its process is gone.
func (s *server) halt() {
	s.signal(syscall.SIGQUIT) // immediate shutdown
	grace := time.NewTimer(quitGrace)
	defer grace.Stop()
	select {
	case <-s.done:
	case <-grace.C:
		s.signal(syscall.SIGKILL)
		<-s.done
	}
}

// signal reaches this server or nothing: os.Process knows when its process has been waited for.
func (s *server) signal(sig syscall.Signal) {
	_ = s.cmd.Process.Signal(sig)
}

// tail passes on what the server prints, and keeps the end of it for error messages.
type tail struct {
	next io.Writer

	mu   sync.Mutex
	last []byte
}

// tailSize is room for some thirty lines.
const tailSize = 4 << 10

// Write never fails: a reader that gave up must not stop the server, which would block
// on a pipe that nobody empties.
func (t *tail) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.last = append(t.last, p...)
	if extra := len(t.last) - tailSize; extra > 0 {
		t.last = append(t.last[:0], t.last[extra:]...)
	}
	if t.next != nil {
		_, _ = t.next.Write(p)
	}
	return len(p), nil
}

func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return string(t.last)
}
