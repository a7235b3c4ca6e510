package localpg

import (
	"fmt"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
)

// settings suit a small machine that runs the server and its callers side by side. What
// is not named here keeps PostgreSQL's default. The file is written at every start;
// an operator's own settings go into local.conf beside it, which is read last.
const settings = `# Written at every start. Put your own settings into local.conf in this folder.

# An acknowledged record survives a power cut. These are the defaults, said aloud.
fsync = on
synchronous_commit = on
full_page_writes = on

# A club's records fit in the first; the rest is left to the system's file cache, whose
# likely size the planner is told.
shared_buffers = 128MB
effective_cache_size = 512MB

# Sorts of a list page stay in memory; with a few dozen connections this stays small.
work_mem = 8MB
maintenance_work_mem = 64MB

# Checkpoints are spread out: fewer full-page writes, at the price of a recovery of
# some seconds after a crash.
max_wal_size = 1GB
min_wal_size = 128MB
checkpoint_timeout = 15min

# Solid-state disks read at random nearly as fast as in sequence.
random_page_cost = 1.1

# Statements here are short: compiling them costs more than it saves.
jit = off

# One time zone in rows and in logs; callers turn instants into local time.
timezone = 'UTC'
log_timezone = 'UTC'

log_line_prefix = '%m [%p] '
log_checkpoints = off

include_if_exists 'local.conf'
`

// accessRules lets in, over the unix socket, the one operating system account that this
// process runs as, as either role; there is no rule for a network connection. The
// kernel vouches for the account (peer), which unlike trust does not depend on folder
// modes and unlike a password leaves no secret to keep. It is the only method with
// which a root process and the unprivileged server it started know each other as they are.
const accessRules = "local all all peer map=tiedown\n"

// accounts maps this process's account to the roles it may take.
func accounts(name string) string {
	quoted := `"` + strings.ReplaceAll(name, `"`, `""`) + `"`
	return fmt.Sprintf("tiedown %[1]s %[2]s\ntiedown %[1]s %[3]s\n", quoted, Role, superuser)
}

func (h home) settingsFile() string { return filepath.Join(h.conf(), "postgresql.conf") }
func (h home) accessFile() string   { return filepath.Join(h.conf(), "pg_hba.conf") }
func (h home) accountsFile() string { return filepath.Join(h.conf(), "pg_ident.conf") }

// configure writes the server's settings. They lie outside the data folder and belong to
// this process: the server reads them and cannot change them.
func (h home) configure() error {
	self, err := user.LookupId(strconv.Itoa(os.Geteuid()))
	if err != nil {
		return fmt.Errorf("learn the name of this process's account: %w", err)
	}
	if err := os.MkdirAll(h.conf(), 0o755); err != nil {
		return fmt.Errorf("make the settings folder: %w", err)
	}
	if err := letThrough(h.conf()); err != nil {
		return err
	}
	files := map[string]string{
		h.settingsFile(): settings,
		h.accessFile():   accessRules,
		h.accountsFile(): accounts(self.Username),
	}
	for path, content := range files {
		if err := writeReadable(path, content); err != nil {
			return fmt.Errorf("write the server's settings: %w", err)
		}
	}
	return nil
}

// writeReadable writes a file that the server's account can read, whatever the umask.
func writeReadable(path, content string) error {
	if err := os.WriteFile(path, []byte(content), 0o644); err != nil {
		return err
	}
	return os.Chmod(path, 0o644)
}

// serverArgs is the server's command line. What must hold whatever local.conf says is
// said here, as the command line has the last word.
func (h home) serverArgs(socket string) []string {
	return []string{
		"-D", h.data(),
		"-c", "config_file=" + h.settingsFile(),
		"-c", "hba_file=" + h.accessFile(),
		"-c", "ident_file=" + h.accountsFile(),
		"-c", "listen_addresses=",
		"-c", "unix_socket_directories=" + socket,
		"-c", "unix_socket_permissions=0700",
		"-c", "port=" + port,
	}
}
