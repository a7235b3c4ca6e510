package localpg

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"syscall"
)

// port is the number in the socket's file name; no TCP port is opened.
const port = "5432"

// maxSocketPath is the longest path a unix socket can have on Linux: sun_path holds 108
// bytes, the last of them a zero (unix(7)).
const maxSocketPath = 107

// home is the subfolder of the state folder that holds one cluster. This process owns it;
// only data, socket and initdb-* within belong to the server's account, so that a
// process that runs as root never writes where that account could have laid a link.
type home string

func (h home) lock() string       { return filepath.Join(string(h), "lock") }
func (h home) conf() string       { return filepath.Join(string(h), "conf") }
func (h home) data() string       { return filepath.Join(string(h), "data") }
func (h home) unfinished() string { return filepath.Join(string(h), "initdb-") }

// openHome makes the state folder and the subfolder in it as needed. The path it returns
// is absolute and free of links: two names of one folder are one folder.
func openHome(dir string) (home, error) {
	if dir == "" {
		return "", errors.New("no state folder was named")
	}
	path, err := filepath.Abs(filepath.Join(dir, "postgres"))
	if err != nil {
		return "", fmt.Errorf("state folder: %w", err)
	}
	if err := os.MkdirAll(path, 0o711); err != nil {
		return "", fmt.Errorf("make the state folder: %w", err)
	}
	path, err = filepath.EvalSymlinks(path)
	if err != nil {
		return "", fmt.Errorf("state folder: %w", err)
	}
	return home(path), ownFolder(path)
}

// ownFolder refuses a folder of another account: as root, its owner could have laid
// links for us to write through; as anybody else, the server could not use it.
func ownFolder(path string) error {
	info, err := os.Stat(path)
	if err != nil {
		return fmt.Errorf("state folder: %w", err)
	}
	owner := account{uid: info.Sys().(*syscall.Stat_t).Uid}
	self := account{uid: uint32(os.Geteuid())}
	if owner != self {
		return fmt.Errorf("the state folder %s belongs to %s, and this process runs as %s: run it as %s, or choose another state folder",
			filepath.Dir(path), owner.name(), self.name(), owner.name())
	}
	return nil
}

// admit lets the server's account pass through the state folder, and says which folder
// above it is closed when that is not enough.
func (h home) admit(ctx context.Context, pg installation) error {
	if !pg.as.drop {
		return nil
	}
	for _, dir := range []string{filepath.Dir(string(h)), string(h)} {
		if err := letThrough(dir); err != nil {
			return err
		}
	}
	if pg.canEnter(ctx, string(h)) {
		return nil
	}
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	closed := h.closedAncestor(ctx, pg)
	return fmt.Errorf("PostgreSQL runs as %s, who may not pass through %s: choose a state folder outside it, such as /var/lib/tiedown, or open it with: chmod o+x %s",
		pg.as.name(), closed, closed)
}

// letThrough gives everybody the right to pass through a folder, not to list it.
func letThrough(dir string) error {
	info, err := os.Stat(dir)
	if err != nil {
		return fmt.Errorf("state folder: %w", err)
	}
	if info.Mode()&0o001 != 0 {
		return nil
	}
	if err := os.Chmod(dir, info.Mode()|0o001); err != nil {
		return fmt.Errorf("open the state folder to the server's account: %w", err)
	}
	return nil
}

// closedAncestor returns the topmost folder on the way to home that the account may not enter.
func (h home) closedAncestor(ctx context.Context, pg installation) string {
	closed := string(h)
	for dir := closed; dir != "/"; dir = filepath.Dir(dir) {
		if !pg.canEnter(ctx, dir) {
			closed = dir
		}
	}
	return closed
}

// sweep removes what initdb left when it was cut short.
func (h home) sweep() error {
	left, err := filepath.Glob(h.unfinished() + "*")
	if err != nil {
		return fmt.Errorf("look for an unfinished cluster: %w", err)
	}
	for _, dir := range left {
		if err := os.RemoveAll(dir); err != nil {
			return fmt.Errorf("remove an unfinished cluster: %w", err)
		}
	}
	return nil
}

// makeSocketFolder makes the folder of the unix socket afresh: private to the server's
// account, and so to root. Nobody else can have prepared it, since what is there is
// removed first and making it fails when somebody was quicker.
func (h home) makeSocketFolder(ctx context.Context, pg installation) (string, error) {
	dir := h.socketFolder()
	if err := os.RemoveAll(dir); err != nil {
		return "", fmt.Errorf("clear the socket folder: %w", err)
	}
	if err := os.Mkdir(dir, 0o700); err != nil {
		return "", fmt.Errorf("make the socket folder: %w", err)
	}
	if err := pg.as.give(dir); err != nil {
		return "", err
	}
	if pg.as.drop && !pg.canEnter(ctx, dir) {
		return "", fmt.Errorf("PostgreSQL runs as %s, who may not enter the socket folder %s: set TMPDIR to a folder open to everybody", pg.as.name(), dir)
	}
	return dir, nil
}

// plainPath matches paths that mean themselves in a URL, in a connection string and in
// the server's list of socket folders.
var plainPath = regexp.MustCompile(`^[A-Za-z0-9._/-]+$`)

// socketFolder is the folder beside the cluster when its path is short and plain, else
// one among the temporary files. The latter's name is derived from the cluster's path,
// so a folder left behind by a kill is found and replaced at the next start.
func (h home) socketFolder() string {
	dir := filepath.Join(string(h), "socket")
	if len(dir)+len("/.s.PGSQL."+port) <= maxSocketPath && plainPath.MatchString(dir) {
		return dir
	}
	sum := sha256.Sum256([]byte(h))
	return filepath.Join(os.TempDir(), fmt.Sprintf("tiedown-%x", sum[:6]))
}
