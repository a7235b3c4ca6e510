package pgtest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"

	"github.com/testcontainers/testcontainers-go"
	"github.com/testcontainers/testcontainers-go/log"
	"github.com/testcontainers/testcontainers-go/modules/postgres"

	"tiedown/internal/localpg"
)

// kind is where the databases are.
type kind string

const (
	kindContainer kind = "container"
	kindPrivate   kind = "private"
)

// kindOf is the kind that the environment asks for, or else what the machine offers.
// What is asked for is returned as it is, right or wrong.
var kindOf = sync.OnceValue(func() kind {
	switch asked := os.Getenv("TIEDOWN_TEST_DATABASE"); {
	case asked != "":
		return kind(asked)
	case dockerAnswers():
		return kindContainer
	default:
		return kindPrivate
	}
})

func startServer(ctx context.Context) (server, error) {
	switch k := kindOf(); k {
	case kindContainer:
		return startContainer(ctx)
	case kindPrivate:
		return startPrivate(ctx)
	default:
		return nil, fmt.Errorf("TIEDOWN_TEST_DATABASE is %q: want container, private, or nothing", k)
	}
}

// quiet drops the container library's progress report, which would drown the tests'. It is
// a setting of the whole process, so it is made before any test runs.
func quiet() {
	log.SetDefault(log.NewNoopLogger())
}

// dockerAnswers tells whether a Docker engine can be reached. The library looks for one in
// several places, and panics when it finds none.
func dockerAnswers() (answers bool) {
	defer func() {
		if recover() != nil {
			answers = false
		}
	}()
	provider, err := testcontainers.ProviderDocker.GetProvider()
	if err != nil {
		return false
	}
	return provider.Health(context.Background()) == nil
}

// container is a PostgreSQL in a container. Its login is the superuser.
type container struct {
	running *postgres.PostgresContainer
	address string // host and port
}

const (
	containerUser     = "postgres"
	containerPassword = "postgres"
	defaultImage      = "postgres:15"
)

func startContainer(ctx context.Context) (server, error) {
	image := os.Getenv("TIEDOWN_TEST_IMAGE")
	if image == "" {
		image = defaultImage
	}
	running, err := runImage(ctx, image)
	if err != nil {
		err = fmt.Errorf("no container of the image %s: %w (deploy/postgres-image/build.sh builds an image; TIEDOWN_TEST_DATABASE=private does without)%s", image, err, lastWords(ctx, running))
		return nil, errors.Join(err, remove(running))
	}
	address, err := running.PortEndpoint(ctx, "5432/tcp", "")
	if err != nil {
		return nil, errors.Join(fmt.Errorf("address of the container: %w", err), remove(running))
	}
	return &container{running: running, address: address}, nil
}

// runImage turns the library's panic over a missing engine into an error.
func runImage(ctx context.Context, image string) (running *postgres.PostgresContainer, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("no Docker engine: %v", p)
		}
	}()
	return postgres.Run(ctx, image,
		postgres.WithUsername(containerUser),
		postgres.WithPassword(containerPassword),
		postgres.BasicWaitStrategies(),
	)
}

// lastWords is the end of what a container printed, for the error about it.
func lastWords(ctx context.Context, running *postgres.PostgresContainer) string {
	if running == nil {
		return ""
	}
	logs, err := running.Logs(ctx)
	if err != nil {
		return ""
	}
	defer func() { _ = logs.Close() }()
	said, _ := io.ReadAll(logs)
	return "\n" + string(said[max(0, len(said)-lastWordsSize):])
}

// lastWordsSize is room for some twenty lines.
const lastWordsSize = 2 << 10

// remove kills a container and deletes it with its files: an orderly end is of no use to it.
func remove(running *postgres.PostgresContainer) error {
	if running == nil {
		return nil
	}
	return testcontainers.TerminateContainer(running, testcontainers.StopTimeout(0))
}

func (c *container) url(database string) string {
	u := url.URL{
		Scheme:   "postgres",
		User:     url.UserPassword(containerUser, containerPassword),
		Host:     c.address,
		Path:     "/" + database,
		RawQuery: "sslmode=disable",
	}
	return u.String()
}

func (c *container) admin(database string) string { return c.url(database) }
func (c *container) owner() string                { return containerUser }
func (c *container) stop(context.Context) error   { return remove(c.running) }

// private is a cluster of the machine's own programs. Its login is an ordinary role.
type private struct {
	cluster *localpg.Cluster
	dir     string
}

func startPrivate(ctx context.Context) (server, error) {
	sweep()
	dir, err := os.MkdirTemp("", folderPrefix+strconv.Itoa(os.Getpid())+"-")
	if err != nil {
		return nil, fmt.Errorf("folder for a private PostgreSQL: %w", err)
	}
	cluster, err := localpg.Start(ctx, localpg.Options{Dir: dir})
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	return &private{cluster: cluster, dir: dir}, nil
}

func (p *private) url(database string) string   { return p.cluster.URL(database) }
func (p *private) admin(database string) string { return p.cluster.AdminURL(database) }
func (p *private) owner() string                { return localpg.Role }

func (p *private) stop(ctx context.Context) error {
	return errors.Join(p.cluster.Stop(ctx), os.RemoveAll(p.dir))
}

// folderPrefix, then the process id, then a dash, begins the name of a private server's folder.
const folderPrefix = "tiedown-pgtest-"

// sweep removes the folders of test binaries that were killed: those whose process is gone,
// and whose server therefore is too. What cannot be removed is another account's.
func sweep() {
	left, _ := filepath.Glob(filepath.Join(os.TempDir(), folderPrefix+"*"))
	for _, dir := range left {
		name, _, _ := strings.Cut(strings.TrimPrefix(filepath.Base(dir), folderPrefix), "-")
		pid, err := strconv.Atoi(name)
		if err == nil && errors.Is(syscall.Kill(pid, 0), syscall.ESRCH) {
			_ = os.RemoveAll(dir)
		}
	}
}
