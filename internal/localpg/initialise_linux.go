package localpg

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// initialise makes the cluster with its role and database in a folder aside, and moves it
// into place when it is whole: a start that is cut short leaves no half cluster.
func initialise(ctx context.Context, home home, pg installation) error {
	aside, err := os.MkdirTemp(string(home), filepath.Base(home.unfinished()))
	if err != nil {
		return fmt.Errorf("make a folder for the new cluster: %w", err)
	}
	if err := pg.as.give(aside); err != nil {
		return err
	}
	if err := pg.run(pg.command(ctx, "initdb", initdbArgs(aside)...)); err != nil {
		return err
	}
	if err := createDatabase(ctx, pg, aside); err != nil {
		return err
	}
	if err := os.Rename(aside, home.data()); err != nil {
		return fmt.Errorf("move the new cluster into place: %w", err)
	}
	return syncFolder(string(home))
}

// initdbArgs: text sorts by code point, so that order is the same on every machine and no
// upgrade of the system's locales can break an index; letters are classed by Unicode.
// Checksums find a page that the disk has spoilt before anybody relies on it. The
// access rules that initdb writes are never read (see conf), and are closed in case the
// server is ever started without ours.
func initdbArgs(dir string) []string {
	return []string{
		"--pgdata=" + dir,
		"--username=" + superuser,
		"--encoding=UTF8", "--locale=C", "--lc-ctype=C.UTF-8",
		"--data-checksums",
		"--auth-local=peer", "--auth-host=reject",
	}
}

// createDatabase adds the role and its database. The server runs alone and without a
// socket (postgres --single), so nothing else can come in between, and psql is not needed.
func createDatabase(ctx context.Context, pg installation, dir string) error {
	cmd := pg.command(ctx, "postgres", "--single", "-D", dir, "-c", "exit_on_error=on", "postgres")
	// One statement a line is how this mode reads.
	cmd.Stdin = strings.NewReader(
		"CREATE ROLE " + Role + " LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS NOREPLICATION\n" +
			"CREATE DATABASE " + Database + " OWNER " + Role + "\n")
	return pg.run(cmd)
}

// syncFolder makes a rename in a folder survive a power cut.
func syncFolder(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return fmt.Errorf("sync %s: %w", dir, err)
	}
	return errors.Join(f.Sync(), f.Close())
}
