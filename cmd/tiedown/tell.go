package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync"
	"time"

	"tiedown/internal/mail"
	"tiedown/internal/messenger"
	"tiedown/internal/notice"
	"tiedown/internal/techlog"
)

const (
	// lookAheadEvery is how often it is looked what comes due, beside once when the server starts.
	lookAheadEvery = time.Hour
	// tellEvery is how often it is looked for something to tell, beside whenever an event is rung.
	tellEvery = time.Second
	// digestEvery is how often it is looked whose digest is due.
	digestEvery = 15 * time.Second
)

// openMail makes ready to send mail; nil where the settings name no server for it.
func (h *house) openMail() (messenger.Mailer, error) {
	if h.config.SMTP == "" {
		return nil, nil //nolint:nilnil // nobody is told anything by mail
	}
	s := mail.Settings{Server: h.config.SMTP, User: h.config.SMTPUser, From: h.config.MailFrom}
	if h.config.SMTPPasswordFile != "" {
		secret, err := os.ReadFile(h.config.SMTPPasswordFile)
		if err != nil {
			return nil, fmt.Errorf("TIEDOWN_SMTP_PASSWORD_FILE: %w", err)
		}
		s.Password = strings.TrimSpace(string(secret))
	}
	m, err := mail.New(s)
	if err != nil {
		return nil, fmt.Errorf("TIEDOWN_SMTP, TIEDOWN_MAIL_FROM: %w", err)
	}
	return m, nil
}

// tryMail sends one mail, without a database.
func tryMail(ctx context.Context, p program) int {
	if len(p.args) != 1 {
		fmt.Fprintln(p.err, "usage: tiedown mail ADDRESS")
		return exitUsage
	}
	c, err := p.config()
	if err != nil {
		return p.fail(err)
	}
	mailer, err := (&house{config: c}).openMail()
	if err != nil {
		return p.fail(err)
	}
	if mailer == nil {
		return p.fail(errors.New("TIEDOWN_SMTP names no server of mail"))
	}
	const words = "This mail shows that Tiedown can send mail."
	err = mailer.Send(ctx, notice.Mail{
		ID: newID().String() + "@" + mailer.Domain(), To: p.args[0], Subject: "Mail from Tiedown", Text: words + "\n", HTML: "<p>" + words + "</p>\n", At: now(),
	})
	if err != nil {
		return p.fail(err)
	}
	fmt.Fprintf(p.out, "the server has taken a mail to %s\n", p.args[0])
	return exitOK
}

// newMessenger makes the use cases that tell people what has happened.
func (h *house) newMessenger(publicURL string) *messenger.Messenger {
	return messenger.New(messenger.Settings{
		Store: h.store, Records: h.store, Service: h.service, Mailer: h.mailer, Now: now, NewID: newID, PublicURL: publicURL,
		GaveUp: func(note techlog.ID, trace string) {
			h.log.Warn("a note could not be sent, and is given up", "note", note, "trace", trace)
		},
	})
}

// tell looks ahead and tells people, in the background, until the function that it gives is called. What cannot be told now
// is no reason to stop serving: it is logged, and told later.
func (h *house) tell(ctx context.Context, m *messenger.Messenger) func() {
	ctx, stop := context.WithCancel(context.WithoutCancel(ctx))
	rung := make(chan struct{}, 1)
	var done sync.WaitGroup
	done.Go(func() {
		h.every(ctx, lookAheadEvery, nil, "look ahead at what comes due", func(ctx context.Context) (int, error) { return h.service.LookAhead(ctx, h.store) })
	})
	if h.mailer != nil {
		done.Go(func() { h.every(ctx, digestEvery, nil, "write the digests", m.Digests) })
		done.Go(func() { h.every(ctx, tellEvery, rung, "write the notes of what has happened", m.Relay) })
		done.Go(func() { h.every(ctx, tellEvery, nil, "send the notes", m.Send) })
		done.Go(func() {
			h.store.Heed(ctx, func(techlog.ID) {
				select {
				case rung <- struct{}{}:
				default: // it is to look already
				}
			})
		})
	}
	return func() {
		stop()
		done.Wait()
	}
}

// every does something at once, then whenever a time has passed or something is rung, until the context ends. A failure is
// logged once until it is over.
func (h *house) every(ctx context.Context, period time.Duration, rung <-chan struct{}, what string, do func(context.Context) (int, error)) {
	ticks := time.NewTicker(period)
	defer ticks.Stop()
	failing := ""
	for {
		n, err := do(ctx)
		switch {
		case ctx.Err() != nil || errors.Is(err, context.Canceled):
		case err != nil && err.Error() != failing:
			h.log.Error(what, "error", err)
			failing = err.Error()
		case err == nil:
			failing = ""
		}
		if n > 0 {
			h.log.Debug(what, "how many", n)
		}
		select {
		case <-ticks.C:
		case <-rung:
		case <-ctx.Done():
			return
		}
	}
}
