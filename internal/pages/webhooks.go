package pages

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

func (p *pages) webhookRoutes() {
	p.acting("GET /settings/webhooks", p.showWebhooks)
	p.acting("POST /settings/webhooks", p.makeWebhook)
	p.acting("GET /settings/webhooks/{webhook}", p.showWebhook)
	p.acting("POST /settings/webhooks/{webhook}", p.changeWebhook)
}

// webhooksView lists webhooks, or shows one.
type webhooksView struct {
	refusal
	Hooks      []webhookLine
	Ended      int
	Hook       webhookLine
	Entry      techlog.Webhook // as it stands in the form
	Families   []string
	Others     string // further kinds, as they stand in the form
	Fleet      []techlog.Aircraft
	Deliveries []techlog.Delivery
	State      techlog.DeliveryState // that is shown; empty: all
	Older      string
	Handed     handed
	Done       string
	Again      int // deliveries that are made again
	Zone       *time.Location
	Now        time.Time
}

// webhookLine is a webhook with what it is sent.
type webhookLine struct {
	techlog.Webhook
	Of   string // kinds and aircraft
	Word string // the state
}

// Sends reports whether a family of events is ticked.
func (w webhooksView) Sends(family string) bool { return slices.Contains(w.Entry.Kinds, family) }

// stateWords say whether events are sent.
var stateWords = map[techlog.WebhookState]string{
	techlog.WebhookOn: "On", techlog.WebhookOff: "Off", techlog.WebhookBroken: "Broken: the receiver said that it is gone", techlog.WebhookEnded: "Ended",
}

// deliveriesShown is how many deliveries one page lists.
const deliveriesShown = 40

func (p *pages) webhookLine(w techlog.Webhook, fleet []techlog.Aircraft) webhookLine {
	of := "every event"
	if len(w.Kinds) > 0 {
		of = strings.Join(w.Kinds, ", ")
	}
	if i := slices.IndexFunc(fleet, func(a techlog.Aircraft) bool { return a.ID == w.Aircraft }); i >= 0 {
		of += ", of " + fleet[i].Registration
	}
	return webhookLine{w, of, stateWords[w.State]}
}

func (p *pages) showWebhooks(v *visit) error {
	return p.webhooks(v, webhooksView{Done: v.URL.Query().Get("done")})
}

func (p *pages) webhooks(v *visit, view webhooksView) error {
	all, err := everyOne(func(page hangar.Page) ([]techlog.Webhook, error) { return p.Service.Webhooks(v, v.who, page) },
		func(w *techlog.Webhook) techlog.ID { return w.ID })
	if err != nil {
		return err
	}
	if view.Fleet, err = p.wholeFleet(v); err != nil {
		return err
	}
	for _, w := range all {
		if w.State == techlog.WebhookEnded {
			view.Ended++
			continue
		}
		view.Hooks = append(view.Hooks, p.webhookLine(w, view.Fleet))
	}
	view.Families = techlog.EventFamilies()
	return p.showIn(v, view.code(), "webhooks", frame{Title: "Webhooks", Here: "more", Page: view})
}

// webhook reads a webhook from the form.
func (v *visit) webhook() (techlog.Webhook, string) {
	others := strings.TrimSpace(v.form.Get("others"))
	w := techlog.Webhook{URL: strings.TrimSpace(v.form.Get("url")), Kinds: slices.Clone(v.form["kinds"])}
	w.Kinds = append(w.Kinds, strings.FieldsFunc(others, func(c rune) bool { return c == ',' || c == ' ' })...)
	w.Aircraft, _ = techlog.ParseID(v.form.Get("aircraft"))
	return w, others
}

func (p *pages) makeWebhook(v *visit) error {
	entry, others := v.webhook()
	w, secret, err := p.Service.MakeWebhook(v, v.who, entry, v.once("", nil))
	if a, ok := notTaken("make", err, certificateField); ok {
		return p.webhooks(v, webhooksView{refusal: a, Entry: entry, Others: others})
	}
	if err != nil {
		return err
	}
	return p.handOver(v, "/settings/webhooks/"+w.ID.String(), handed{What: "webhook", About: "made", Secrets: []string{secret}})
}

func (p *pages) showWebhook(v *visit) error {
	q := v.URL.Query()
	again, _ := strconv.Atoi(q.Get("again"))
	return p.oneWebhook(v, webhooksView{Handed: p.takeHanded(v, "webhook"), Done: q.Get("done"), Again: again})
}

func (p *pages) oneWebhook(v *visit, view webhooksView) error {
	id, err := v.named("webhook")
	if err != nil {
		return err
	}
	w, err := p.Service.Webhook(v, v.who, id)
	if err != nil {
		return err
	}
	if view.Fleet, err = p.wholeFleet(v); err != nil {
		return err
	}
	if view.Zone, _, err = p.wall(v); err != nil {
		return err
	}
	q := v.URL.Query()
	filter := hangar.DeliveryFilter{Limit: deliveriesShown}
	if state := techlog.DeliveryState(q.Get("state")); slices.Contains(techlog.DeliveryStates(), state) {
		filter.State, view.State = state, state
	}
	if before, err := strconv.ParseInt(q.Get("before"), 10, 64); err == nil && before > 0 {
		filter.Before = before
	}
	if view.Deliveries, err = p.Service.Deliveries(v, v.who, id, filter); err != nil {
		return err
	}
	if len(view.Deliveries) == deliveriesShown {
		view.Older = "?" + query("state", string(view.State)) + "&" + query("before", strconv.FormatInt(view.Deliveries[deliveriesShown-1].Place, 10)) + "#deliveries"
	}
	view.Hook, view.Families, view.Now = p.webhookLine(w, view.Fleet), techlog.EventFamilies(), p.Now()
	if view.What != "change" {
		view.Entry = w
		var others []string
		for _, kind := range w.Kinds {
			if !slices.Contains(view.Families, kind) {
				others = append(others, kind)
			}
		}
		view.Others = strings.Join(others, ", ")
	}
	return p.showIn(v, view.code(), "webhook", frame{Title: "Webhook", Here: "more", Page: view})
}

// changeWebhook does whatever may be done with one.
func (p *pages) changeWebhook(v *visit) error {
	id, err := v.named("webhook")
	if err != nil {
		return err
	}
	once, step := v.once("", nil), v.form.Get("step")
	one := keep(func(w techlog.Webhook) techlog.ID { return w.ID })
	page, done := "/settings/webhooks/"+id.String(), "?done="+step
	view := webhooksView{}
	switch step {
	case "change", "on", "off", "end":
		var w techlog.Webhook
		if w, err = p.webhookChanged(v, id, step); err != nil {
			break
		}
		if step == "change" {
			view.Entry, view.Others = v.webhook()
		}
		_, err = p.Service.ChangeWebhook(v, v.who, w, once, one)
	case "renew":
		var secret string
		if _, secret, err = p.Service.RenewWebhookSecret(v, v.who, id, once); err == nil {
			return p.handOver(v, page, handed{What: "webhook", About: "renewed", Secrets: []string{secret}})
		}
	case "end-old":
		_, err = p.Service.EndOldWebhookSecrets(v, v.who, id, once, one)
	case "ping":
		_, err = p.Service.PingWebhook(v, v.who, id, once, one)
	case "replay":
		var n int
		n, err = kept[int](p.Service.ReplayDeliveries(v, v.who, id, v.replay(), once, keep(func(n int) int { return n })))
		done = "?done=replay&again=" + strconv.Itoa(n) + "#deliveries"
	default:
		return techlog.Errorf(kindSyntax, "the form asks for nothing that can be done")
	}
	if a, ok := notTaken(step, err, certificateField); ok {
		view.refusal = a
		return p.oneWebhook(v, view)
	}
	if err != nil {
		return err
	}
	return v.goTo(page + done)
}

// webhookChanged is the webhook as the form wants it, from the version that it has seen.
func (p *pages) webhookChanged(v *visit, id techlog.ID, step string) (techlog.Webhook, error) {
	w, err := p.Service.Webhook(v, v.who, id)
	if err != nil {
		return w, err
	}
	switch step {
	case "change":
		entry, _ := v.webhook()
		w.URL, w.Kinds, w.Aircraft = entry.URL, entry.Kinds, entry.Aircraft
	case "on":
		w.State = techlog.WebhookOn
	case "off":
		w.State = techlog.WebhookOff
	default:
		w.State = techlog.WebhookEnded
	}
	w.Version, err = v.version()
	return w, err
}

// replay says which deliveries are to be made again.
func (v *visit) replay() hangar.Replay {
	var which hangar.Replay
	which.Place, _ = strconv.ParseInt(v.form.Get("place"), 10, 64) // without a number nothing is named, which is refused
	which.From, _ = strconv.ParseInt(v.form.Get("from"), 10, 64)
	which.Dead = v.form.Get("dead") != ""
	return which
}
