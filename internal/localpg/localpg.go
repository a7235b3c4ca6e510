// Package localpg runs a private PostgreSQL for people who have none: it makes a
// cluster in a state folder at the first start, reuses it at every later one, and
// takes the server down with the process that started it.
//
// It owns the state folder's "postgres" subfolder and the server process. It does not own
// the programs (the machine's own initdb and postgres are used), the schema, or any
// connection: it hands out URLs and speaks no SQL beyond creating one role and one database.
//
// The server listens on a unix socket alone. Data is durable: fsync is on, page checksums
// are on, and a kill at any moment costs a recovery at the next start and nothing else.
//
// Layout of the state folder:
//
//	postgres/lock      held while a process uses the folder; holds that process's id
//	postgres/conf/     the server's settings, written at every start; local.conf is the operator's
//	postgres/data/     the cluster, owned by the account the server runs as
//	postgres/socket/   the unix socket, or a short folder among the temporary files
//	postgres/initdb-*  a cluster in the making; swept at the next start when cut short
package localpg

import (
	"errors"
	"io"
)

// Names inside a cluster.
const (
	// Role is the ordinary login role: it owns Database, and is neither superuser nor
	// exempt from row-level security.
	Role = "tiedown"
	// Database is the database made at the first start.
	Database = "tiedown"
	// superuser is the bootstrap superuser.
	superuser = "postgres"
)

// ErrNoPrograms is returned by Start when the machine has no PostgreSQL server programs.
var ErrNoPrograms = errors.New("PostgreSQL's server programs (initdb, postgres) were not found: install them with: apt-get install postgresql")

// ErrInUse is why Start fails when another process runs the cluster of the state folder.
var ErrInUse = errors.New("in use")

// Options says where a cluster lives.
type Options struct {
	// Dir is the state folder; it is made when missing. As root the server runs as another
	// account, which must be able to reach the cluster: Dir itself then gets the
	// permission to be passed through (o+x); folders above it are left alone.
	Dir string
	// Log receives what initdb and the server print; nil drops it. It must not block for
	// long, as the server waits for it.
	Log io.Writer

	// search replaces the folders in which the programs are looked for.
	search []string
}
