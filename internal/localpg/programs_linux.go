package localpg

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// oldestMajor is the oldest major version accepted: the one that the tests run against.
const oldestMajor = 15

// programs is one installation of PostgreSQL's server programs.
type programs struct {
	dir   string
	major int
}

func (p programs) path(name string) string {
	return filepath.Join(p.dir, name)
}

// findPrograms returns the first usable installation: on PATH, then in the folders where
// Debian puts them, newest first. A data folder opens only with the major version that
// made it, so a major other than 0 accepts that one alone.
func findPrograms(ctx context.Context, acct account, search []string, major int) (programs, error) {
	if search == nil {
		search = append(filepath.SplitList(os.Getenv("PATH")), debianFolders()...)
	}
	var seen []programs
	var faults []error
	for _, dir := range search {
		p, err := probe(ctx, acct, dir)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			continue
		case err != nil:
			faults = append(faults, err)
		case p.major == major, major == 0 && p.major >= oldestMajor:
			return p, nil
		default:
			seen = append(seen, p)
		}
	}
	return programs{}, errors.Join(unsuitable(seen, major), errors.Join(faults...))
}

// unsuitable explains why none of the installations seen will do.
func unsuitable(seen []programs, major int) error {
	switch {
	case len(seen) == 0 && major == 0:
		return ErrNoPrograms
	case major == 0:
		return fmt.Errorf("PostgreSQL %d in %s is too old: %d or newer is needed", seen[0].major, seen[0].dir, oldestMajor)
	default:
		return fmt.Errorf("the state folder holds a cluster of PostgreSQL %[1]d, whose programs were not found: install them with: apt-get install postgresql-%[1]d", major)
	}
}

// debianFolders returns Debian's program folders, newest version first: by number, as 9
// would sort after 15 by name.
func debianFolders() []string {
	dirs, _ := filepath.Glob("/usr/lib/postgresql/*/bin")
	version := func(dir string) int {
		n, _ := strconv.Atoi(filepath.Base(filepath.Dir(dir)))
		return n
	}
	slices.SortFunc(dirs, func(a, b string) int { return cmp.Compare(version(b), version(a)) })
	return dirs
}

// probe runs the programs in a folder to learn their version: a name on PATH may be a
// wrapper or a broken link. It returns fs.ErrNotExist when the folder lacks one of them.
// A relative folder is never looked into, as what it means depends on where one stands.
func probe(ctx context.Context, acct account, dir string) (programs, error) {
	if !filepath.IsAbs(dir) {
		return programs{}, fs.ErrNotExist
	}
	p := programs{dir: dir}
	for _, name := range []string{"postgres", "initdb"} {
		if _, err := os.Stat(p.path(name)); err != nil {
			return programs{}, fs.ErrNotExist
		}
	}
	server, err := majorOf(ctx, acct, p.path("postgres"))
	if err != nil {
		return programs{}, err
	}
	maker, err := majorOf(ctx, acct, p.path("initdb"))
	if err != nil {
		return programs{}, err
	}
	if server != maker {
		return programs{}, fmt.Errorf("%s holds postgres %d beside initdb %d", dir, server, maker)
	}
	p.major = server
	return p, nil
}

var versionLine = regexp.MustCompile(`\(PostgreSQL\) (\d+)`)

func majorOf(ctx context.Context, acct account, program string) (int, error) {
	out, err := acct.command(ctx, program, "--version").Output()
	if err != nil {
		return 0, fmt.Errorf("ask %s for its version: %w", program, err)
	}
	m := versionLine.FindSubmatch(out)
	if m == nil {
		return 0, fmt.Errorf("%s is not a PostgreSQL program: it calls itself %q", program, strings.TrimSpace(string(out)))
	}
	return strconv.Atoi(string(m[1]))
}

// clusterMajor returns the major version that made a data folder, 0 when there is none.
func clusterMajor(data string) (int, error) {
	if _, err := os.Stat(data); errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	}
	content, err := os.ReadFile(filepath.Join(data, "PG_VERSION"))
	if err != nil {
		return 0, fmt.Errorf("read the cluster's version: %w", err)
	}
	major, err := strconv.Atoi(strings.TrimSpace(string(content)))
	if err != nil {
		return 0, fmt.Errorf("read the cluster's version in %s: %w", data, err)
	}
	return major, nil
}
