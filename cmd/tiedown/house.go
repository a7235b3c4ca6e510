package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"github.com/google/uuid"

	"tiedown/internal/config"
	"tiedown/internal/hangar"
	"tiedown/internal/identity"
	"tiedown/internal/localpg"
	"tiedown/internal/messenger"
	"tiedown/internal/notice/webhook"
	"tiedown/internal/people"
	"tiedown/internal/postgres"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
)

// shutdownLimit bounds an orderly end.
const shutdownLimit = 20 * time.Second

// house is everything that a running program holds open.
type house struct {
	config   config.Config
	log      *slog.Logger
	settings hangar.Settings  // of the service
	cluster  *localpg.Cluster // nil when the database is somebody else's
	dbLog    *os.File         // what the private database prints
	store    *postgres.Store
	people   *people.People
	files    hangar.Files
	mailer   messenger.Mailer // nil: nobody is told anything by mail
	service  *hangar.Service

	url     string // of the database
	allowed webhook.Allowed
	vault   webhook.Vault
}

// open brings up the database, its schema and the use cases.
func (p program) open(ctx context.Context, c config.Config) (*house, error) {
	h := &house{config: c}
	var level slog.Level
	if err := level.UnmarshalText([]byte(c.LogLevel)); err != nil {
		return nil, fmt.Errorf("TIEDOWN_LOG: %w", err)
	}
	h.log = slog.New(slog.NewTextHandler(p.err, &slog.HandlerOptions{Level: level}))
	book, err := regulation.Current()
	if err != nil {
		return nil, err
	}
	url, err := h.database(ctx)
	if err != nil {
		return nil, err
	}
	if err := h.connect(ctx, url, book); err != nil {
		return nil, errors.Join(err, h.close())
	}
	return h, nil
}

// database starts the private database, unless one is given.
func (h *house) database(ctx context.Context) (string, error) {
	if h.config.DatabaseURL != "" {
		return h.config.DatabaseURL, nil
	}
	var err error
	if h.dbLog, err = h.databaseLog(); err != nil {
		return "", err
	}
	h.cluster, err = localpg.Start(ctx, localpg.Options{Dir: h.config.StateDir, Log: h.dbLog})
	if err != nil {
		return "", errors.Join(err, h.dbLog.Close())
	}
	return h.cluster.URL(localpg.Database), nil
}

// databaseLog keeps what the private database prints beside its data.
func (h *house) databaseLog() (*os.File, error) {
	if err := os.MkdirAll(h.config.StateDir, 0o755); err != nil {
		return nil, fmt.Errorf("make the state folder: %w", err)
	}
	return os.OpenFile(filepath.Join(h.config.StateDir, "database.log"), os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
}

func (h *house) connect(ctx context.Context, url string, book regulation.Book) error {
	if err := postgres.Migrate(ctx, url); err != nil {
		return fmt.Errorf("bring the database to this program's schema: %w", err)
	}
	store, err := postgres.Open(ctx, postgres.Config{URL: url, MaxConns: h.config.MaxConns})
	if err != nil {
		return fmt.Errorf("open the database: %w", err)
	}
	h.store, h.url = store, url
	key, err := h.logKey()
	if err != nil {
		return err
	}
	if h.people, err = h.openPeople(); err != nil {
		return err
	}
	if err := h.openFiles(ctx); err != nil {
		return err
	}
	if err := h.openWebhooks(); err != nil {
		return err
	}
	if h.mailer, err = h.openMail(); err != nil {
		return err
	}
	h.settings = hangar.Settings{
		Store: store, Prover: h.people, Book: hangar.Book{Rules: book.Ruleset, Upkeep: book.Upkeep, Digest: book.Digest}, Now: now, NewID: newID,
		Log: store, LogKey: key, Files: h.files, Sealer: h.vault, Targets: h.targets(),
	}
	h.service = hangar.New(h.settings)
	n, err := store.BeginLogs(ctx, now())
	if err != nil {
		return err
	}
	if n > 0 {
		h.log.Info("what was on record before there was a log has been entered", "organizations", n)
	}
	n, err = h.service.RejudgeStale(ctx, store)
	if err != nil {
		return fmt.Errorf("judge the planned flights by the current book: %w", err)
	}
	if n > 0 {
		h.log.Info("the book has changed: planned flights judged anew", "aircraft", n)
	}
	return nil
}

// openPeople makes the use cases about persons. Passkeys are for the address at which people reach the server.
func (h *house) openPeople() (*people.People, error) {
	publicURL := h.address()
	keys, err := identity.NewPasskeys(publicURL)
	if err != nil {
		return nil, fmt.Errorf("TIEDOWN_PUBLIC_URL: %w", err)
	}
	hasher := identity.NewPasswords(identity.Today, max(1, runtime.GOMAXPROCS(0)-1))
	s := people.Settings{Store: h.store, Hasher: hasher, Keys: keys, Now: now, NewID: newID}
	if h.config.OIDCIssuer != "" {
		secret, err := os.ReadFile(h.config.OIDCSecretFile)
		if err != nil {
			return nil, fmt.Errorf("TIEDOWN_OIDC_SECRET_FILE: %w", err)
		}
		s.Provider = identity.NewProvider(identity.ProviderSettings{
			Issuer: h.config.OIDCIssuer, ClientID: h.config.OIDCClientID, Secret: strings.TrimSpace(string(secret)),
			Redirect: publicURL + "/v1/oidc/callback", Now: now,
		})
	}
	return people.New(s), nil
}

// close ends everything in order. It waits even when the program was told to stop.
func (h *house) close() error {
	if h.store != nil {
		h.store.Close()
	}
	if h.cluster == nil {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), shutdownLimit)
	defer cancel()
	return errors.Join(h.cluster.Stop(ctx), h.dbLog.Close())
}

// now is the program's only clock. Microseconds are what the database keeps.
func now() time.Time { return time.Now().UTC().Truncate(time.Microsecond) }

// newID gives identifiers in the order of time.
func newID() techlog.ID { return techlog.ID(uuid.Must(uuid.NewV7())) }
