package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// built is a test binary a package that is asked, each with all mutants in it.
type built struct {
	settings
	folder   string
	binaries map[string]string // by package folder
}

// memory bounds what a mutant that never stops may take, in kilobytes of address space.
const memory = 8 << 20

func build(ctx context.Context, s settings, src *source) (*built, error) {
	folder, err := os.MkdirTemp("", "mutants")
	if err != nil {
		return nil, err
	}
	b := &built{settings: s, folder: folder, binaries: map[string]string{}}
	overlay, err := b.overlay(src)
	if err != nil {
		return nil, err
	}
	for _, t := range s.trials {
		if b.binaries[t.dir] != "" {
			continue
		}
		binary := filepath.Join(folder, strings.ReplaceAll(t.dir, string(filepath.Separator), "_")+".test")
		command := exec.CommandContext(ctx, "go", "test", "-c", "-vet=off", "-overlay", overlay, "-o", binary, "./"+t.dir)
		command.Dir = s.root
		if out, err := command.CombinedOutput(); err != nil {
			return nil, fmt.Errorf("building %s: %w\n%s", t.dir, err, out)
		}
		b.binaries[t.dir] = binary
	}
	return b, nil
}

// overlay writes the mutated files, and the map that lays them over those of the package.
func (b *built) overlay(src *source) (string, error) {
	replace := map[string]string{}
	put := func(over, text string) error {
		path := filepath.Join(b.folder, filepath.Base(over))
		replace[over] = path
		return os.WriteFile(path, []byte(text), 0o600)
	}
	for _, f := range src.files {
		if !f.mutate {
			continue
		}
		if err := put(f.path, f.write()); err != nil {
			return "", err
		}
	}
	beside := filepath.Join(filepath.Dir(src.files[0].path), "the_mutant.go")
	if err := put(beside, switchboard(src.types.Name())); err != nil {
		return "", err
	}
	overlay, err := json.Marshal(map[string]any{"Replace": replace})
	if err != nil {
		return "", err
	}
	path := filepath.Join(b.folder, "overlay.json")
	return path, os.WriteFile(path, overlay, 0o600)
}

// sound makes sure that every trial passes while nothing is changed: one that fails anyway would kill everything.
func (b *built) sound(ctx context.Context) error {
	for _, t := range b.trials {
		if out, err := b.ask(ctx, t, 0); err != nil {
			return fmt.Errorf("%s fails without any mutant: %w\n%s", t.dir, err, out)
		}
	}
	return nil
}

// try asks one trial after another, and names the first that notices the mutant: the package, and the test where the
// output tells. Nothing: it survives.
func (b *built) try(ctx context.Context, m *mutant) string {
	for _, t := range b.trials {
		if out, err := b.ask(ctx, t, m.number); err != nil {
			return filepath.Base(t.dir) + " " + noticed(out)
		}
	}
	return ""
}

func (b *built) ask(ctx context.Context, t trial, number int) ([]byte, error) {
	ctx, cancel := context.WithTimeout(ctx, b.limit)
	defer cancel()
	line := fmt.Sprintf(`ulimit -v %d; exec "$0" "$@"`, memory)
	args := append([]string{"-c", line, b.binaries[t.dir], "-test.failfast"}, t.args...)
	command := exec.CommandContext(ctx, "sh", args...)
	command.Dir = filepath.Join(b.root, t.dir)
	command.Env = append(append(os.Environ(), fmt.Sprintf("MUTANT=%d", number)), t.env...)
	return command.CombinedOutput()
}

// noticed is the name of the test that failed, or how else the run ended.
func noticed(out []byte) string {
	for line := range bytes.Lines(out) {
		if rest, ok := bytes.CutPrefix(line, []byte("--- FAIL: ")); ok {
			name, _, _ := bytes.Cut(rest, []byte(" "))
			return string(name)
		}
	}
	if bytes.Contains(out, []byte("panic:")) {
		return "panic"
	}
	return "no end in time"
}
