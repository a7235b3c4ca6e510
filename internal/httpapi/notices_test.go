package httpapi_test

import (
	"context"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/hangar"
	"tiedown/internal/mail"
	"tiedown/internal/messenger"
	"tiedown/internal/notice"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/postbox"
)

const someNotices = `{"mail": true, "kinds": ["squawk-filed"], "fleet": true, "zone": "America/Chicago"}`

// noticeRequests are good requests about what people are told.
func (x *exercise) noticeRequests(t *testing.T) map[string]func() asked {
	t.Helper()
	link := func(method string) func() asked {
		return func() asked {
			who, secret := x.rig.somebody(t, techlog.Pilot), hangar.NewSecret()
			digest, _ := hangar.SecretDigest(secret)
			err := x.rig.store.AddStopLinks(t.Context(), x.rig.club, notice.StopLink{Digest: digest, Person: who.person.ID, Kind: notice.SquawkFiled, At: noon})
			if err != nil {
				t.Fatal(err)
			}
			return asked{method: method, path: messenger.StopPath + secret, token: "none"}
		}
	}
	get := func(path string) func() asked { return func() asked { return asked{method: "GET", path: path} } }
	return map[string]func() asked{
		"showNotices": func() asked { return asked{method: "GET", path: "/v1/me/notices", browser: x.rig.somebody(t, x.as)} },
		"changeNotices": func() asked {
			return asked{method: "PUT", path: "/v1/me/notices", browser: x.rig.somebody(t, x.as), header: ifMatch(0), body: someNotices}
		},
		"showUnsubscribe": link("GET"), "unsubscribe": link("POST"),
		"showWarningSettings": get("/v1/settings/warnings"), "listWarnings": get("/v1/warnings"),
		"changeWarningSettings": func() asked {
			version := x.rig.ask(t, asked{method: "GET", path: "/v1/settings/warnings"}).header.Get("ETag")
			return asked{method: "PUT", path: "/v1/settings/warnings", header: map[string]string{"If-Match": version}, body: `{"days_ahead": [14, 2]}`}
		},
		"showWarning": func() asked { return asked{method: "GET", path: "/v1/warnings/" + x.warning(t).String()} },
	}
}

// warning gives one, as looking ahead does.
func (x *exercise) warning(t *testing.T) techlog.ID {
	t.Helper()
	w := techlog.Warning{
		ID: newID(), Lead: 7, At: noon, Upcoming: techlog.Upcoming{
			Aircraft: techlog.ID(x.fleet.aircraft.Id), Thing: "paper:" + newID().String(), What: "registration", Says: "It runs out.", Due: "2027-01-17", Days: 7,
		},
	}
	_, err := x.rig.store.Change(t.Context(), hangar.Scope{Organization: x.rig.club, By: "tiedown", At: noon}, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
		tx.AddWarning(w)
		return nil, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return w.ID
}

// TestASquawkArrivesByMail over HTTP and SMTP: it is filed, the letter comes, its link is opened and pressed by somebody
// who is not signed in, and the person finds it among the own settings and turns it on again.
func TestASquawkArrivesByMail(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	box := postbox.Open(t, postbox.Settings{})
	mailer, err := mail.New(mail.Settings{Server: "smtp://" + box.Addr, From: "Tiedown <tiedown@club.example>"})
	if err != nil {
		t.Fatal(err)
	}
	settings := r.notices
	settings.Mailer = mailer
	m := messenger.New(settings)
	tell := func() string {
		t.Helper()
		before := len(box.Letters())
		for _, do := range []func(context.Context) (int, error){m.Relay, m.Send} {
			if _, err := do(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
		var all strings.Builder
		for _, l := range box.Letters()[before:] {
			all.Write(l.Raw)
		}
		return strings.ReplaceAll(all.String(), "=\r\n", "")
	}
	pat := r.somebody(t, techlog.Mechanic)
	file := asked{method: "POST", path: "/v1/aircraft/" + f.aircraft.Id.String() + "/squawks", body: report}
	created[client.FiledSquawk](t, r, file)
	letter := tell()
	link := regexp.MustCompile(regexp.QuoteMeta(publicURL) + `(/v1/unsubscribe/[A-Za-z0-9_-]{43})>`).FindStringSubmatch(letter)
	if link == nil || !strings.Contains(letter, "beacon is dark") || !strings.Contains(letter, "To: <"+string(pat.person.Email)+">") {
		t.Fatalf("%s", letter)
	}
	for _, q := range []asked{{method: "GET", path: link[1], token: "none"}, {method: "POST", path: link[1], token: "none"}, {method: "GET", path: link[1], token: "none"}} {
		got := r.ask(t, q)
		asks := strings.Contains(string(got.body), `<form method="post">`)
		if got.status != http.StatusOK || got.header.Get("Content-Type") != "text/html" || !strings.Contains(string(got.body), "squawks that are filed") {
			t.Errorf("%s: %d %s", q.method, got.status, got.body)
		}
		q.browser, q.token = pat, ""
		shown := decoded[client.Notices](t, r.ask(t, asked{method: "GET", path: "/v1/me/notices", browser: pat}), http.StatusOK)
		if stopped := len(shown.Kinds) == 0; stopped == asks || stopped != (shown.Version == 1) {
			t.Errorf("%s asks %v: %+v", q.method, asks, shown)
		}
	}
	created[client.FiledSquawk](t, r, file)
	if letter := tell(); letter != "" {
		t.Errorf("after it was stopped: %s", letter)
	}
	on := asked{method: "PUT", path: "/v1/me/notices", browser: pat, header: ifMatch(1), body: someNotices}
	if got := r.ask(t, on); got.status != http.StatusOK || got.header.Get("ETag") != `"2"` {
		t.Errorf("%d %s", got.status, got.body)
	}
	created[client.FiledSquawk](t, r, file)
	if letter := tell(); !strings.Contains(letter, "beacon is dark") {
		t.Errorf("after it was turned on again: %q", letter)
	}
}

// TestNoticesAreRefused with every fault at once, each with its field.
func TestNoticesAreRefused(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	pat := r.somebody(t, techlog.Pilot)
	for body, want := range map[string]string{
		`{"mail": true, "kinds": [], "fleet": true, "zone": "Atlantis/Nowhere", "quiet": {"from": "22:00", "until": "22:00"}, "follows": ["` + newID().String() + `"]}`: "some-hours quiet known zone known-aircraft follows",
		`{"mail": true, "kinds": ["digest"], "fleet": true, "zone": "UTC", "digest_hour": 24}`:                                                                          "enum kinds[0] range digest_hour",
		`{"mail": true, "kinds": [], "fleet": true, "zone": "UTC", "quiet": {"from": "24:00", "until": "7:00"}}`:                                                        "form quiet.from form quiet.until",
	} {
		got := r.ask(t, asked{method: "PUT", path: "/v1/me/notices", browser: pat, header: ifMatch(0), body: body})
		if faults := strings.Join(got.faults(t), " "); got.status != http.StatusUnprocessableEntity || faults != want {
			t.Errorf("%s: %d %q, want %q", body, got.status, faults, want)
		}
	}
}

// TestWarningsAreListed in pages, newest first, and by aircraft.
func TestWarningsAreListed(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	first, second := x.warning(t), x.warning(t)
	all := x.rig.pages(t, "/v1/warnings?limit=1", "warnings")
	if len(all) != 2 || all[0]["id"] != second.String() || all[1]["id"] != first.String() || all[0]["registration"] != x.fleet.aircraft.Registration {
		t.Errorf("%v", all)
	}
	if other := x.rig.pages(t, "/v1/warnings?aircraft="+newID().String(), "warnings"); len(other) != 0 {
		t.Errorf("%v", other)
	}
	if mine := x.rig.pages(t, "/v1/warnings?aircraft="+x.fleet.aircraft.Id.String(), "warnings"); len(mine) != 2 {
		t.Errorf("%v", mine)
	}
}
