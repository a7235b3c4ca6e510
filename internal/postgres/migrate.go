package postgres

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"time"

	"github.com/golang-migrate/migrate/v4"
	driver "github.com/golang-migrate/migrate/v4/database/pgx/v5"
	"github.com/golang-migrate/migrate/v4/source/iofs"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"

	"tiedown/migrations"
)

// Migrate brings a database to this program's schema; a second call changes nothing. Several programs may call it at
// once: one works, the others wait. It fails on a database that is newer than the program, and on one whose last
// migration was cut short.
func Migrate(ctx context.Context, url string) error {
	m, err := migrator(ctx, url)
	if err != nil {
		return fmt.Errorf("migrate the database: %w", opaque(err))
	}
	if err = up(ctx, m); err == nil {
		err = migrateRiver(ctx, url)
	}
	sourceErr, databaseErr := m.Close()
	if err = errors.Join(err, sourceErr, databaseErr); err != nil {
		return fmt.Errorf("migrate the database: %w", opaque(err))
	}
	return nil
}

// lockLimit bounds the wait for another program that migrates the same database.
const lockLimit = 2 * time.Minute

func migrator(ctx context.Context, url string) (*migrate.Migrate, error) {
	config, err := pgx.ParseConfig(url)
	if err != nil {
		return nil, err
	}
	db := stdlib.OpenDB(*config)
	if err := db.PingContext(ctx); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	database, err := driver.WithInstance(db, &driver.Config{})
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	steps, err := iofs.New(migrations.Files, ".")
	if err != nil {
		return nil, errors.Join(err, database.Close())
	}
	m, err := migrate.NewWithInstance("migrations", steps, "postgres", database)
	if err != nil {
		return nil, errors.Join(err, steps.Close(), database.Close())
	}
	m.LockTimeout = lockLimit
	return m, nil
}

func up(ctx context.Context, m *migrate.Migrate) error {
	latest, err := latestStep()
	if err != nil {
		return err
	}
	// A step that is under way looks like one that was cut short until its lock is free, so that is not asked here.
	version, _, err := m.Version()
	switch {
	case err != nil && !errors.Is(err, migrate.ErrNilVersion):
		return err
	case version > latest:
		return newerSchema(version, latest)
	}
	// The steps cannot be cancelled, but the program can stop between two of them.
	stop := context.AfterFunc(ctx, func() { m.GracefulStop <- true })
	err = m.Up()
	if !stop() {
		err = errors.Join(ctx.Err(), err)
	}
	var dirty migrate.ErrDirty
	switch {
	case errors.Is(err, migrate.ErrNoChange) && ctx.Err() == nil:
		return nil
	case errors.As(err, &dirty):
		return cutShort(uint(dirty.Version))
	default:
		return err
	}
}

func newerSchema(version, latest uint) error {
	return fmt.Errorf("the database's schema is at step %d, newer than this program's %d: run a newer program", version, latest)
}

func cutShort(version uint) error {
	return fmt.Errorf("step %d of the schema was cut short, so what the database holds is not known: restore it from a backup, or compare it with that step and correct schema_migrations by hand", version)
}

// latestStep is the number of the last step that the program knows.
func latestStep() (uint, error) {
	steps, err := iofs.New(migrations.Files, ".")
	if err != nil {
		return 0, err
	}
	version, err := steps.First()
	for err == nil {
		var next uint
		if next, err = steps.Next(version); err == nil {
			version = next
		}
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return 0, errors.Join(err, steps.Close())
	}
	return version, steps.Close()
}
