package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"syscall"
	"testing"

	"tiedown/internal/testrig/pgtest"
)

var link = regexp.MustCompile(`once: http\S+/password\?link=(\S+)\n$`)

// signIn signs in at a running server, and gives what the browser then sends, and the session's form token.
func (p *process) signIn(email, password string) (cookie *http.Cookie, form string) {
	p.t.Helper()
	body := fmt.Sprintf(`{"email": %q, "password": %q}`, email, password)
	response, err := http.Post("http://"+p.addr+"/v1/session", "application/json", strings.NewReader(body))
	if err != nil {
		p.t.Fatal(err)
	}
	defer response.Body.Close()
	var in struct {
		Session struct {
			FormToken string `json:"form_token"`
		} `json:"session"`
	}
	if err := json.NewDecoder(response.Body).Decode(&in); err != nil || response.StatusCode != http.StatusOK || len(response.Cookies()) != 1 {
		p.t.Fatalf("sign in as %s: %d, %v, %v", email, response.StatusCode, response.Cookies(), err)
	}
	return response.Cookies()[0], in.Session.FormToken
}

// me asks who the bearer of a cookie is.
func (p *process) me(cookie *http.Cookie) (int, string) {
	p.t.Helper()
	request, err := http.NewRequestWithContext(p.t.Context(), http.MethodGet, "http://"+p.addr+"/v1/me", nil)
	if err != nil {
		p.t.Fatal(err)
	}
	request.AddCookie(cookie)
	return p.do(request)
}

// TestTheFirstAccount makes accounts from the command line, and signs in with them over plain http at a loopback address.
func TestTheFirstAccount(t *testing.T) {
	t.Parallel()
	settings := []string{"TIEDOWN_DATABASE_URL=" + pgtest.New(t), "TIEDOWN_STATE_DIR=" + stateDir(t)}
	admin := func(in string, args ...string) (int, string, string) {
		return call(t, in, append([]string{"admin"}, args...), settings...)
	}
	for _, args := range [][]string{nil, {"create"}, {"create", "wren@club.example"}, {"remove", "x", "y"}, {"link"}, {"create", "a@b.c", "A", "--organization"}} {
		if code, _, stderr := admin("", args...); code != exitUsage || !strings.Contains(stderr, "usage: tiedown admin") {
			t.Errorf("admin %v: %d %s", args, code, stderr)
		}
	}
	if code, _, stderr := admin("", "create", "wren@club.example", "Wren Talbot"); code != exitFailed || !strings.Contains(stderr, "no such organization") {
		t.Errorf("without an organization: %d %s", code, stderr)
	}
	if code, _, stderr := call(t, "", []string{"organization", "Two Oaks"}, settings...); code != 0 {
		t.Fatalf("%d %s", code, stderr)
	}
	// A password that is not good enough is said to be, and the account is there with its link.
	code, out, stderr := admin("short\n", "create", "wren@club.example", "Wren", "Talbot")
	if m := link.FindStringSubmatch(out); code != exitFailed || m == nil || !strings.Contains(stderr, "not with this password") {
		t.Errorf("a short password: %d %s %s", code, out, stderr)
	}
	if code, _, stderr := admin("", "create", "WREN@club.example", "Twin"); code != exitFailed || !strings.Contains(stderr, "already") {
		t.Errorf("a second account of the address: %d %s", code, stderr)
	}
	code, out, stderr = admin("four grey geese over the marsh\n", "create", "--organization", "Two Oaks", "finch@club.example", "Finch Arden")
	if code != 0 || !strings.Contains(out, "finch@club.example is an administrator of Two Oaks") || strings.Contains(out, "geese") {
		t.Errorf("%d %s %s", code, out, stderr)
	}
	if code, _, stderr := admin("", "create", "--organization=Three Oaks", "teal@club.example", "Teal"); code != exitFailed || !strings.Contains(stderr, "no such organization") {
		t.Errorf("%d %s", code, stderr)
	}
	code, out, stderr = admin("", "link", "wren@club.example")
	made := link.FindStringSubmatch(out)
	if code != 0 || made == nil {
		t.Fatalf("link: %d %s %s", code, out, stderr)
	}

	p := start(t, "serve", settings...)
	status, body := p.post("", "/v1/password", fmt.Sprintf(`{"link": %q, "password": "seven herons along the dyke"}`, made[1]))
	if status != http.StatusNoContent {
		t.Fatalf("set the password: %d %s", status, body)
	}
	for email, password := range map[string]string{"wren@club.example": "seven herons along the dyke", "finch@club.example": "four grey geese over the marsh"} {
		cookie, form := p.signIn(email, password)
		if cookie.Name != "tiedown" || cookie.Secure || !cookie.HttpOnly || cookie.SameSite != http.SameSiteLaxMode || form == "" {
			t.Errorf("the cookie of a server at a loopback address: %v", cookie)
		}
		if status, body := p.me(cookie); status != 200 || !strings.Contains(body, email) {
			t.Errorf("me: %d %s", status, body)
		}
	}
}

// TestTheDemoClubsPeopleSignIn reads what the demonstration prints, over two starts.
func TestTheDemoClubsPeopleSignIn(t *testing.T) {
	t.Parallel()
	state := "TIEDOWN_STATE_DIR=" + stateDir(t)
	for range 2 {
		p := start(t, "demo", state)
		if len(p.passwords) != 4 {
			t.Fatalf("%v, want the sign-in of four people", p.passwords)
		}
		for email, password := range p.passwords {
			cookie, _ := p.signIn(email, password)
			if status, body := p.me(cookie); status != 200 || !strings.Contains(body, "Three Willows Flying Club") {
				t.Errorf("%s: %d %s", email, status, body)
			}
		}
		if err := p.stop(syscall.SIGINT); err != nil {
			t.Fatal(err)
		}
	}
}

func TestProviderSettingsAreReadAtTheStart(t *testing.T) {
	t.Parallel()
	settings := []string{
		"TIEDOWN_DATABASE_URL=" + pgtest.New(t), "TIEDOWN_STATE_DIR=" + stateDir(t), "TIEDOWN_ADDR=127.0.0.1:0",
		"TIEDOWN_OIDC_ISSUER=https://login.example", "TIEDOWN_OIDC_CLIENT_ID=tiedown", "TIEDOWN_OIDC_SECRET_FILE=/no/such/file",
	}
	code, _, stderr := call(t, "", []string{"serve"}, settings...)
	if code != exitFailed || !strings.Contains(stderr, "TIEDOWN_OIDC_SECRET_FILE") {
		t.Errorf("%d %s", code, stderr)
	}
}

func TestWherePeopleCanSignIn(t *testing.T) {
	t.Parallel()
	for address, want := range map[string]bool{
		"https://club.example": true, "http://localhost:8080": true, "http://127.0.0.1:8080": true, "http://[::]:8080": true,
		"http://club.example": false, "http://192.0.2.1:8080": false, "://": false,
	} {
		if got := keepsCookies(address); got != want {
			t.Errorf("%s: %v", address, got)
		}
	}
}
