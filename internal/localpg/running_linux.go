package localpg

import (
	"fmt"
	"os"
	"strings"
)

// Running gives the connection URL of a database of the cluster that another process of this account runs in a state
// folder, as Role. The cluster is that process's: it may end at any moment.
func Running(dir, database string) (string, error) {
	home, err := openHome(dir)
	if err != nil {
		return "", err
	}
	raw, err := os.ReadFile(pidFile(home.data()))
	if err != nil {
		return "", fmt.Errorf("find the running PostgreSQL: %w", err)
	}
	const socketLine = 4 // of postmaster.pid, from 0: the folder of the unix socket
	lines := strings.Split(string(raw), "\n")
	if len(lines) <= socketLine || lines[socketLine] == "" {
		return "", fmt.Errorf("find the running PostgreSQL: %s does not say where it listens", pidFile(home.data()))
	}
	return socketURL(Role, database, lines[socketLine]), nil
}
