package localpg

import (
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// speak is a stand-in program that answers --version.
func speak(name string, version string) string {
	return "echo '" + name + " (PostgreSQL) " + version + "'"
}

func TestFindPrograms(t *testing.T) {
	t.Parallel()
	pair := func(postgres, initdb string) string {
		return programFolder(t, map[string]string{"postgres": speak("postgres", postgres), "initdb": speak("initdb", initdb)})
	}
	empty := stateFolderOpen(t)
	half := programFolder(t, map[string]string{"postgres": speak("postgres", "15.1")})
	wrapper := programFolder(t, map[string]string{"postgres": "exit 3", "initdb": "exit 3"})
	stranger := programFolder(t, map[string]string{"postgres": "echo hello", "initdb": "echo hello"})
	old, good, newer, mixed := pair("13.4", "13.4"), pair("15.2 (Debian 15.2-1)", "15.2"), pair("17beta1", "17beta1"), pair("15.2", "16.1")
	relative := strings.Repeat("../", 50) + good // from anywhere, the root folder stops the climb

	for _, c := range []struct {
		name   string
		search []string
		major  int
		want   string // folder
		fault  string
	}{
		{name: "first on the list", search: []string{good, newer}, want: good},
		{name: "broken ones are passed over", search: []string{empty, half, wrapper, stranger, mixed, old, good}, want: good},
		{name: "a cluster takes its own version", search: []string{newer, good}, major: 15, want: good},
		{name: "a cluster of an old version still opens", search: []string{good, old}, major: 13, want: old},
		{name: "a cluster takes no other version", search: []string{newer}, major: 15, fault: "apt-get install postgresql-15"},
		{name: "too old for a new cluster", search: []string{old}, fault: "PostgreSQL 13 in " + old + " is too old"},
		{name: "versions mixed", search: []string{mixed}, fault: "postgres 15 beside initdb 16"},
		{name: "a wrapper that fails is named", search: []string{wrapper}, fault: wrapper + "/postgres"},
		{name: "not PostgreSQL at all", search: []string{stranger}, fault: `calls itself "hello"`},
		{name: "half an installation", search: []string{half}, fault: ErrNoPrograms.Error()},
		{name: "a relative folder is not looked into", search: []string{relative}, fault: ErrNoPrograms.Error()},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			acct, err := serverAccount(filepath.Join(empty, "none"))
			must(t, err)
			got, err := findPrograms(t.Context(), acct, c.search, c.major)
			if c.fault != "" {
				if err == nil || !strings.Contains(err.Error(), c.fault) {
					t.Fatalf("got %v, want an error with %q", err, c.fault)
				}
				if c.fault == ErrNoPrograms.Error() && err.Error() != c.fault {
					t.Errorf("got %v, want %q alone", err, c.fault)
				}
				return
			}
			must(t, err)
			if got.dir != c.want {
				t.Errorf("got %s, want %s", got.dir, c.want)
			}
		})
	}
}

func TestNoPrograms(t *testing.T) {
	t.Parallel()
	_, err := Start(t.Context(), Options{Dir: stateFolder(t), search: []string{stateFolderOpen(t)}})
	if !errors.Is(err, ErrNoPrograms) {
		t.Fatalf("got %v, want ErrNoPrograms", err)
	}
	if msg := err.Error(); strings.Contains(msg, "\n") || !strings.HasSuffix(msg, "apt-get install postgresql") {
		t.Errorf("want one line that ends with the command to run, got %q", msg)
	}
}

func TestDebianFoldersComeNewestFirst(t *testing.T) {
	t.Parallel()
	last := 1 << 30
	for _, dir := range debianFolders() {
		n, err := strconv.Atoi(filepath.Base(filepath.Dir(dir)))
		must(t, err)
		if n > last {
			t.Errorf("%d comes after %d", n, last)
		}
		last = n
	}
}

func TestClusterMajor(t *testing.T) {
	t.Parallel()
	write := func(content string) string {
		dir := stateFolder(t)
		must(t, os.WriteFile(filepath.Join(dir, "PG_VERSION"), []byte(content), 0o600))
		return dir
	}
	for _, c := range []struct {
		name, data string
		want       int
		fails      bool
	}{
		{name: "no cluster", data: filepath.Join(stateFolder(t), "none"), want: 0},
		{name: "cluster", data: write("15\n"), want: 15},
		{name: "folder that is no cluster", data: stateFolder(t), fails: true},
		{name: "nonsense", data: write("fifteen\n"), fails: true},
	} {
		got, err := clusterMajor(c.data)
		if got != c.want || (err != nil) != c.fails {
			t.Errorf("%s: got %d, %v", c.name, got, err)
		}
	}
}
