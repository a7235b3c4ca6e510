// Command tiedown knows what is wrong with every aircraft of a fleet, and says for each intended flight whether it may
// go, and why. It is an aid, not an approval: the pilot in command decides (14 CFR 91.7(b)).
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"tiedown/internal/config"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, program{args: os.Args[1:], env: os.Environ(), in: os.Stdin, out: os.Stdout, err: os.Stderr})
	stop()
	os.Exit(code)
}

// program is one run of the program, so that a test can start one.
type program struct {
	args []string
	env  []string
	in   io.Reader
	out  io.Writer
	err  io.Writer
}

// Exit codes. Those of evaluate stand beside its verdicts.
const (
	exitOK     = 0
	exitFailed = 1
	exitUsage  = 2
)

// command is one thing that the program can do.
type command struct {
	name  string
	args  string
	about string
	run   func(context.Context, program) int
}

func commands() []command {
	return []command{
		{"serve", "", "serve the fleet's records over HTTP", serve},
		{"demo", "", "serve, with an invented club loaded at the first start", serveDemo},
		{"evaluate", "[--explain] [--record FILE] FILE|-", "judge one written case; exit 0 may go, 3 defer first, 4 undetermined, 5 grounded, 2 bad input", evaluate},
		{"evaluate", "--replay FILE", "judge a recorded case again; exit 0 if the answer is the same, 1 if it differs", evaluate},
		{"rules", "[list] [--csv]", "list the rows of regulation with their citations", rules},
		{"rules", "explain|check|diff|company", "tell a row whole; check tables in a folder; judge flights by two books; an organization's rules from CSV", rules},
		{"checklist", "FILE|-", "check the checklist of a walkaround, CSV or JSON, and print it in the other form", checklist},
		{"audit", "verify [--key KEY]... [--checkpoint FILE]... [ORGANIZATION-ID]", "hold every record against the log; exit 1 with a list if one was altered", auditCommand},
		{"audit", "receipt ORGANIZATION-ID KIND RECORD-ID [NUMBER]", "print the signed receipt of a squawk-entry, deferral or determination", auditCommand},
		{"audit", "check FILE|- --key KEY", "check a receipt without a database; exit 0 good, 1 bad, 2 bad input", auditCommand},
		{"audit", "key", "print the public key by which receipts are checked", auditCommand},
		{"migrate", "", "bring the database to this program's schema", migrate},
		{"organization", "NAME", "add an organization and print a token for its administrator", addOrganization},
		{"admin", "create EMAIL NAME [--organization ID|NAME]", "make an account; its password is read from standard input, or set by the link that is printed", admin},
		{"admin", "link EMAIL", "print a link with which the person sets a password anew", admin},
		{"mail", "ADDRESS", "send a mail, to see whether the settings for it are right", tryMail},
		{"token", "ORGANIZATION-ID ROLE NAME", "print a new token for somebody of an organization", addToken},
	}
}

func run(ctx context.Context, p program) int {
	if len(p.args) == 0 {
		p.usage()
		return exitUsage
	}
	name := p.args[0]
	p.args = p.args[1:]
	for _, c := range commands() {
		if c.name == name {
			return c.run(ctx, p)
		}
	}
	if name == "help" || name == "-h" || name == "--help" {
		p.usage()
		return exitOK
	}
	fmt.Fprintf(p.err, "tiedown: there is no command %q\n", name)
	p.usage()
	return exitUsage
}

func (p program) usage() {
	fmt.Fprintln(p.err, "usage: tiedown COMMAND [ARGUMENTS]")
	for _, c := range commands() {
		fmt.Fprintf(p.err, "  %-38s %s\n", strings.TrimSpace(c.name+" "+c.args), c.about)
	}
	fmt.Fprintln(p.err, "settings: TIEDOWN_DATABASE_URL, TIEDOWN_ADDR, TIEDOWN_PUBLIC_URL, TIEDOWN_OIDC_ISSUER, TIEDOWN_OIDC_CLIENT_ID, TIEDOWN_OIDC_SECRET_FILE, TIEDOWN_STATE_DIR, TIEDOWN_LOG, TIEDOWN_LOG_KEY, TIEDOWN_SMTP, TIEDOWN_SMTP_USER, TIEDOWN_SMTP_PASSWORD_FILE, TIEDOWN_MAIL_FROM, TIEDOWN_DATABASE_CONNECTIONS")
}

// config reads the settings.
func (p program) config() (config.Config, error) {
	environment := map[string]string{}
	for _, entry := range p.env {
		if name, value, ok := strings.Cut(entry, "="); ok {
			environment[name] = value
		}
	}
	return config.Load(environment, os.Geteuid() == 0)
}

// fail prints an error in one line and gives the exit code. A cancelled context is a person's wish, not a failure.
func (p program) fail(err error) int {
	if errors.Is(err, context.Canceled) {
		return exitOK
	}
	fmt.Fprintf(p.err, "tiedown: %v\n", err)
	return exitFailed
}
