package main

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"tiedown/internal/testrig/postbox"
)

// visitor is somebody who has signed in at a running program.
type visitor struct {
	p      *process
	cookie *http.Cookie
	form   string
}

// visit signs in as one of the demo club's people.
func (p *process) visit(email string) *visitor {
	p.t.Helper()
	v := &visitor{p: p}
	body := fmt.Sprintf(`{"email": %q, "password": %q}`, email, p.passwords[email])
	response := v.send(http.MethodPost, "/v1/session", body, "")
	defer response.Body.Close()
	for _, c := range response.Cookies() {
		v.cookie = c
	}
	if v.cookie == nil {
		p.t.Fatalf("signing in as %s: %d", email, response.StatusCode)
	}
	shown := v.send(http.MethodGet, "/v1/session", "", "")
	defer shown.Body.Close()
	var session struct {
		Form string `json:"form_token"`
	}
	if err := json.NewDecoder(shown.Body).Decode(&session); err != nil || session.Form == "" {
		p.t.Fatalf("%v", err)
	}
	v.form = session.Form
	return v
}

func (v *visitor) send(method, path, body, version string) *http.Response {
	v.p.t.Helper()
	request, err := http.NewRequestWithContext(context.Background(), method, "http://"+v.p.addr+path, strings.NewReader(body))
	if err != nil {
		v.p.t.Fatal(err)
	}
	if v.cookie != nil {
		request.AddCookie(v.cookie)
	}
	request.Header.Set("X-Form-Token", v.form)
	if body != "" {
		request.Header.Set("Content-Type", "application/json")
	}
	if version != "" {
		request.Header.Set("If-Match", version)
	}
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		v.p.t.Fatal(err)
	}
	return response
}

// hears says what the person wants to hear of.
func (v *visitor) hears(body string) {
	v.p.t.Helper()
	shown := v.send(http.MethodGet, "/v1/me/notices", "", "")
	_ = shown.Body.Close()
	changed := v.send(http.MethodPut, "/v1/me/notices", body, shown.Header.Get("ETag"))
	defer changed.Body.Close()
	if changed.StatusCode != http.StatusOK {
		v.p.t.Fatalf("%d", changed.StatusCode)
	}
}

// arrives waits for a letter with some words, after so many.
func arrives(t *testing.T, p *process, box *postbox.Postbox, after int, words string) string {
	t.Helper()
	for end := time.Now().Add(startLimit); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		for _, l := range box.Letters()[after:] {
			if text := strings.ReplaceAll(string(l.Raw), "=\r\n", ""); strings.Contains(text, words) {
				return text
			}
		}
	}
	t.Fatalf("no letter says %q\n%s", words, p.stderr)
	return ""
}

// TestASquawkArrivesByMail with the real program and a server of mail: a squawk arrives, its link stops such mail for
// somebody who has not signed in, the digest of the day comes, and a server of mail that was away is sent what it missed.
func TestASquawkArrivesByMail(t *testing.T) {
	t.Parallel()
	box := postbox.Open(t, postbox.Settings{})
	p := start(t, "demo", "TIEDOWN_STATE_DIR="+stateDir(t), "TIEDOWN_SMTP=smtp://"+box.Addr, "TIEDOWN_MAIL_FROM=Tiedown <tiedown@club.example>")
	var email string
	for address := range p.passwords {
		email = max(email, address)
	}
	v := p.visit(email)
	v.hears(`{"mail": true, "kinds": ["squawk-filed"], "fleet": true, "zone": "UTC"}`)
	aircraft := list(t, p, "aircraft")[0].ID
	file := func(words string) {
		t.Helper()
		if status, body := p.post("pilot", "/v1/aircraft/"+aircraft+"/squawks", `{"kind":"condition","item":"tire","words":"`+words+`"}`); status != 201 {
			t.Fatalf("filing a squawk: %d %s", status, body)
		}
	}
	to := "To: <" + email + ">"
	file("Flat on the left.")
	letter := arrives(t, p, box, 0, "Flat on the left.")
	for _, l := range box.Letters() {
		if raw := strings.ReplaceAll(string(l.Raw), "=\r\n", ""); strings.Contains(raw, to) && strings.Contains(raw, "Flat on the left.") {
			letter = raw
		}
	}
	if !strings.Contains(letter, to) || !strings.Contains(letter, "Auto-Submitted: auto-generated") {
		letter = arrives(t, p, box, 0, to)
	}
	link := regexp.MustCompile(`List-Unsubscribe: <http://[^/]+(/v1/unsubscribe/\S+)>`).FindStringSubmatch(letter)
	if link == nil {
		t.Fatalf("%s", letter)
	}
	if status, page := p.post("", link[1], "List-Unsubscribe=One-Click"); status != 200 || !strings.Contains(page, "squawks that are filed") {
		t.Fatalf("%d %s", status, page)
	}

	before := len(box.Letters())
	box.Refuse(func(string) error { return postbox.Later })
	v.hears(fmt.Sprintf(`{"mail": true, "kinds": ["flight-held"], "fleet": true, "zone": "UTC", "digest_hour": %d}`, time.Now().UTC().Hour()))
	file("Flat on the right.")
	if err := p.stop(syscall.SIGKILL); err == nil {
		t.Fatal("a killed program ends well")
	}
	box.Refuse(nil)
	p = start(t, "demo", p.cmd.Env...)
	digest := arrives(t, p, box, before, "Squawks filed since the last digest")
	if !strings.Contains(digest, to) || !strings.Contains(digest, "Flat on the right.") {
		t.Errorf("%s", digest)
	}
	for _, l := range box.Letters()[before:] {
		if raw := string(l.Raw); strings.Contains(raw, to) && strings.Contains(raw, "Subject: ") && strings.Contains(raw, ": squawk 0") && !strings.Contains(raw, "digest") {
			t.Errorf("squawks were stopped: %s", raw)
		}
	}
	if err := p.stop(syscall.SIGTERM); err != nil {
		t.Fatalf("the order to stop: %v\n%s", err, p.stderr)
	}
}

// TestTheSettingsOfMailAreTried by a command that needs no database.
func TestTheSettingsOfMailAreTried(t *testing.T) {
	t.Parallel()
	box := postbox.Open(t, postbox.Settings{})
	try := func(settings []string, args ...string) (int, string) {
		var out strings.Builder
		code := run(t.Context(), program{args: append([]string{"mail"}, args...), env: settings, out: &out, err: &out})
		return code, out.String()
	}
	set := []string{"TIEDOWN_SMTP=smtp://" + box.Addr, "TIEDOWN_MAIL_FROM=Tiedown <tiedown@club.example>"}
	if code, said := try(set, "pat@club.example"); code != exitOK || len(box.Letters()) != 1 || strings.Contains(string(box.Letters()[0].Raw), "List-Unsubscribe") {
		t.Errorf("%d %s", code, said)
	}
	box.Refuse(func(string) error { return postbox.Never })
	if code, said := try(set, "pat@club.example"); code != exitFailed || !strings.Contains(said, "nobody of that name") {
		t.Errorf("%d %s", code, said)
	}
	if code, said := try(nil, "pat@club.example"); code != exitFailed || !strings.Contains(said, "TIEDOWN_SMTP") {
		t.Errorf("%d %s", code, said)
	}
	if code, _ := try(set); code != exitUsage {
		t.Errorf("%d", code)
	}
}
