package main

import (
	"context"
	"fmt"
	"net"
	"sync"

	"tiedown/internal/notice/webhook"
	"tiedown/internal/postgres"
)

// deliveryConns are the connections to the database that deliveries have to themselves: what is sent never keeps a request
// waiting, nor the other way round.
const deliveryConns = 8

// openWebhooks makes what webhooks need: where they may lead, and the key that their secrets are sealed under. That key comes
// out of the secret of the log's key: it is there already, every server of the installation has it, it is not in the
// database, and people know that it must not be lost. Another one in its place seals the secrets shut, until they are renewed.
func (h *house) openWebhooks() error {
	var err error
	if h.allowed, err = webhook.ParseAllowed(h.config.WebhookAllow); err != nil {
		return fmt.Errorf("TIEDOWN_WEBHOOK_ALLOW: %w", err)
	}
	secret, err := h.logSecret()
	if err != nil {
		return err
	}
	h.vault, err = webhook.NewVault(secret)
	return err
}

func (h *house) targets() webhook.Targets {
	return webhook.Targets{Allowed: h.allowed, Resolver: net.DefaultResolver}
}

// deliver sends events to webhooks in the background, until the function that it gives is called, which lets the attempts that
// are under way finish.
func (h *house) deliver(ctx context.Context) (func(), error) {
	store, err := postgres.Open(ctx, postgres.Config{URL: h.url, MaxConns: deliveryConns})
	if err != nil {
		return nil, fmt.Errorf("open the database for deliveries: %w", err)
	}
	courier := webhook.NewCourier(webhook.Settings{
		Outbox: store, Sender: webhook.NewSender(h.allowed, h.vault, now), Breaker: h.service, Log: h.log, Now: now, NewID: newID,
	})
	rounds, err := store.StartRounds(ctx, courier, h.log)
	if err != nil {
		store.Close()
		return nil, err
	}
	ctx, stop := context.WithCancel(context.WithoutCancel(ctx))
	var done sync.WaitGroup
	done.Go(func() { courier.Relay(ctx, store) })
	return func() {
		stop()
		done.Wait()
		courier.Stop()
		last, cancel := context.WithTimeout(context.WithoutCancel(ctx), shutdownLimit)
		defer cancel()
		if err := rounds.Stop(last); err != nil {
			h.log.Error("stop deliveries", "error", err)
		}
		courier.Close()
		store.Close()
	}, nil
}
