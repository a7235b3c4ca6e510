package api_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// TestGeneratedCodeIsCurrent generates the code anew and compares.
func TestGeneratedCodeIsCurrent(t *testing.T) {
	t.Parallel()
	// The generator runs on its own: what it reads is looked at here as well, so that no result is remembered beyond a
	// change of it.
	for _, input := range []string{"openapi.yaml", "overlay.yaml", "../tools/go.mod"} {
		if _, err := os.ReadFile(input); err != nil {
			t.Fatal(err)
		}
	}
	for settings, generated := range map[string]string{
		"server.yaml": "server/server.gen.go",
		"client.yaml": "client/client.gen.go",
	} {
		out := filepath.Join(t.TempDir(), "gen.go")
		cmd := exec.CommandContext(t.Context(), "go", "tool", "-modfile=../tools/go.mod", "oapi-codegen", "-config", elsewhere(t, settings, generated, out), "openapi.yaml")
		cmd.Env = append(os.Environ(), "GOFLAGS=")
		if said, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%s: %v\n%s", settings, err, said)
		}
		want, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		have, err := os.ReadFile(generated)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(have, want) {
			t.Errorf("%s is not what the contract gives: run go generate ./api/...", generated)
		}
	}
}

// elsewhere copies settings, with another place for what is generated.
func elsewhere(t *testing.T, settings, from, to string) string {
	t.Helper()
	raw, err := os.ReadFile(settings)
	if err != nil {
		t.Fatal(err)
	}
	changed := bytes.Replace(raw, []byte("output: "+from+"\n"), []byte("output: "+to+"\n"), 1)
	if bytes.Equal(changed, raw) {
		t.Fatalf("%s does not write to %s", settings, from)
	}
	path := filepath.Join(t.TempDir(), settings)
	if err := os.WriteFile(path, changed, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}
