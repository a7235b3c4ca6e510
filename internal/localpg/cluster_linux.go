package localpg

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"sync"
)

// Cluster is a running private PostgreSQL. Its methods may be called from any goroutine.
type Cluster struct {
	server *server
	socket string // folder of the unix socket
	lock   *os.File

	stopOnce sync.Once
	stopErr  error
}

// Start brings up the cluster in the state folder, making it when there is none, and
// returns once it accepts connections. The context bounds the start alone: the server
// lives until Stop, or until this process ends, however it ends.
//
// It returns ErrNoPrograms when the machine has no PostgreSQL, and an error naming the
// process when another one uses the folder. A server that an earlier process left
// running on the folder is shut down first.
func Start(ctx context.Context, o Options) (*Cluster, error) {
	home, err := openHome(o.Dir)
	if err != nil {
		return nil, err
	}
	lock, err := acquire(home.lock())
	if err != nil {
		return nil, err
	}

	c, err := start(ctx, home, o)
	if err != nil {
		return nil, errors.Join(err, lock.Close())
	}
	c.lock = lock
	return c, nil
}

// start does the work of Start under the folder's lock.
func start(ctx context.Context, home home, o Options) (*Cluster, error) {
	major, err := clusterMajor(home.data())
	if err != nil {
		return nil, err
	}
	pg, err := locate(ctx, home, o, major)
	if err != nil {
		return nil, err
	}
	if err := home.admit(ctx, pg); err != nil {
		return nil, err
	}
	if err := home.sweep(); err != nil {
		return nil, err
	}
	if err := retireLeftovers(ctx, home.data()); err != nil {
		return nil, err
	}
	if major == 0 {
		if err := initialise(ctx, home, pg); err != nil {
			return nil, err
		}
	}
	return serve(ctx, home, pg)
}

// serve starts the server on an initialised cluster and waits until it is ready.
func serve(ctx context.Context, home home, pg installation) (*Cluster, error) {
	if err := home.configure(); err != nil {
		return nil, err
	}
	socket, err := home.makeSocketFolder(ctx, pg)
	if err != nil {
		return nil, err
	}
	s, err := launch(pg, home.serverArgs(socket))
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(socket))
	}
	if err := s.awaitReady(ctx, home.data()); err != nil {
		s.halt()
		return nil, errors.Join(err, os.RemoveAll(socket))
	}
	return &Cluster{server: s, socket: socket}, nil
}

// URL returns the connection URL of a database as Role, the ordinary role.
func (c *Cluster) URL(database string) string {
	return c.url(Role, database)
}

// AdminURL returns the connection URL of a database as the bootstrap superuser. It is for
// tests and repair: row-level security does not bind a superuser.
func (c *Cluster) AdminURL(database string) string {
	return c.url(superuser, database)
}

func (c *Cluster) url(role, database string) string { return socketURL(role, database, c.socket) }

// socketURL spells host and port out, so that PGHOST and PGPORT in the caller's environment
// cannot lead a client elsewhere. The socket folder needs no escaping (see plainPath).
func socketURL(role, database, socket string) string {
	u := url.URL{
		Scheme:   "postgres",
		User:     url.User(role),
		Path:     "/" + database,
		RawQuery: "host=" + socket + "&port=" + port,
	}
	return u.String()
}

// Done is closed when the server has ended, by Stop or by itself. A process whose
// database has ended should end too: starting again recovers.
func (c *Cluster) Done() <-chan struct{} {
	return c.server.done
}

// Stop shuts the server down: open transactions are rolled back and a checkpoint is
// written, so that the next start needs no recovery. When the context ends first, the
// server is made to quit at once, which loses nothing acknowledged and costs the next
// start a recovery. Stop leaves no server behind, frees the state folder, and returns an
// error when the server had ended by itself or did not end cleanly. Later calls return
// what the first one did.
func (c *Cluster) Stop(ctx context.Context) error {
	c.stopOnce.Do(func() {
		c.stopErr = errors.Join(c.stopServer(ctx), os.RemoveAll(c.socket), c.lock.Close())
	})
	return c.stopErr
}

func (c *Cluster) stopServer(ctx context.Context) error {
	select {
	case <-c.server.done:
		return fmt.Errorf("PostgreSQL had already ended: %w", c.server.failure())
	default:
		return c.server.shutdown(ctx)
	}
}
