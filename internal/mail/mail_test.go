package mail_test

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net"
	netmail "net/mail"
	"strings"
	"testing"
	"time"

	"tiedown/internal/mail"
	"tiedown/internal/notice"
	"tiedown/internal/testrig/postbox"
)

var noon = time.Date(2031, time.May, 4, 12, 0, 0, 0, time.UTC)

const stop = "https://club.example/v1/unsubscribe/secret"

func sample() notice.Mail {
	l := notice.Letter{
		Subject: "N012TW: a flight is held — Übung", Opening: "One flight may no longer go.",
		Sections: []notice.Section{{Title: "Flights", Lines: []string{"4 May, 14:00: <b>grounded</b> & held", "line one\nline two"}}}, Caution: "An aid.",
	}
	return l.Addressed("0190-1@club.example", "pat@club.example", noon, notice.Links{Why: "You are a member.", Stop: stop, StopAll: stop + "2", Kind: notice.FlightHeld})
}

func mailer(t *testing.T, s mail.Settings) *mail.Mailer {
	t.Helper()
	if s.From == "" {
		s.From = "Tiedown <tiedown@club.example>"
	}
	m, err := mail.New(s)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// parts reads the text and the HTML of a mail.
func parts(t *testing.T, raw []byte) (*netmail.Message, map[string]string) {
	t.Helper()
	m, err := netmail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		t.Fatalf("%v in %q", err, raw)
	}
	media, parameters, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	if err != nil || media != "multipart/alternative" {
		t.Fatalf("%s %v", media, err)
	}
	found := map[string]string{}
	for r := multipart.NewReader(m.Body, parameters["boundary"]); ; {
		p, err := r.NextRawPart()
		if errors.Is(err, io.EOF) {
			return m, found
		}
		if err != nil {
			t.Fatal(err)
		}
		var body io.Reader = p
		if p.Header.Get("Content-Transfer-Encoding") == "quoted-printable" {
			body = quotedprintable.NewReader(p)
		}
		content, err := io.ReadAll(body)
		if err != nil {
			t.Fatal(err)
		}
		media, _, _ := mime.ParseMediaType(p.Header.Get("Content-Type"))
		found[media] = strings.ReplaceAll(string(content), "\r\n", "\n")
	}
}

// TestALetterArrives reads back what a server was handed. Headers: RFC 5322 (3.6.4), RFC 2369 (3.2), RFC 8058 (3.1),
// RFC 3834 (5).
func TestALetterArrives(t *testing.T) {
	t.Parallel()
	box := postbox.Open(t, postbox.Settings{})
	m := mailer(t, mail.Settings{Server: "smtp://" + box.Addr})
	want := sample()
	if err := m.Send(t.Context(), want); err != nil {
		t.Fatal(err)
	}
	letters := box.Letters()
	if len(letters) != 1 || letters[0].From != "tiedown@club.example" || strings.Join(letters[0].To, " ") != want.To {
		t.Fatalf("%+v", letters)
	}
	got, bodies := parts(t, letters[0].Raw)
	subject, err := new(mime.WordDecoder).DecodeHeader(got.Header.Get("Subject"))
	if err != nil || subject != want.Subject {
		t.Errorf("subject %q %v", subject, err)
	}
	for header, value := range map[string]string{
		"Message-Id": "<0190-1@club.example>", "Auto-Submitted": "auto-generated", "List-Unsubscribe": "<" + stop + ">",
		"List-Unsubscribe-Post": "List-Unsubscribe=One-Click", "From": `"Tiedown" <tiedown@club.example>`, "To": "<pat@club.example>",
	} {
		if all := got.Header[header]; len(all) != 1 || all[0] != value {
			t.Errorf("%s: %q, want %q", header, all, value)
		}
	}
	if at, err := got.Header.Date(); err != nil || !at.Equal(noon) {
		t.Errorf("date %v %v", at, err)
	}
	if bodies["text/plain"] != want.Text || bodies["text/html"] != want.HTML {
		t.Errorf("text %q\nhtml %q", bodies["text/plain"], bodies["text/html"])
	}
}

// TestTheLineIsSecret holds that nothing goes to another machine in the clear, nor to a server that nobody vouches for.
func TestTheLineIsSecret(t *testing.T) {
	t.Parallel()
	bare, start, secret := postbox.Open(t, postbox.Settings{}), postbox.Open(t, postbox.Settings{StartTLS: true}), postbox.Open(t, postbox.Settings{TLS: true, User: "club", Password: "a secret"})
	remote := func(scheme string, b *postbox.Postbox) string { // the same machine by a name that does not say so
		return scheme + "://" + strings.Replace(b.Addr, "127.0.0.1", loopbackByName, 1)
	}
	for what, c := range map[string]struct {
		s    mail.Settings
		box  *postbox.Postbox
		want bool
	}{
		"no STARTTLS":                   {mail.Settings{Server: remote("smtp", bare)}, bare, false},
		"STARTTLS of a stranger":        {mail.Settings{Server: remote("smtp", start)}, start, false},
		"TLS of a stranger":             {mail.Settings{Server: "smtps://" + secret.Addr, User: "club", Password: "a secret"}, secret, false},
		"TLS, but another password":     {mail.Settings{Server: "smtps://" + secret.Addr, User: "club", Password: "none", Roots: secret.Roots}, secret, false},
		"TLS":                           {mail.Settings{Server: "smtps://" + secret.Addr, User: "club", Password: "a secret", Roots: secret.Roots}, secret, true},
		"in the clear, on this machine": {mail.Settings{Server: "smtp://" + bare.Addr}, bare, true},
	} {
		before := len(c.box.Letters())
		err := mailer(t, c.s).Send(t.Context(), sample())
		if sent := len(c.box.Letters()) > before; sent != c.want || (err == nil) != c.want || errors.Is(err, notice.ErrRefused) {
			t.Errorf("%s: sent %v, %v", what, sent, err)
		}
	}
}

// loopbackByName is this machine by an address that is not a loopback to whoever reads it.
const loopbackByName = "0.0.0.0"

// TestWhatAServerAnswers tells a final answer from one that may pass (RFC 5321, 4.2.1), and holds that a letter which was
// taken counts as sent.
func TestWhatAServerAnswers(t *testing.T) {
	t.Parallel()
	box := postbox.Open(t, postbox.Settings{User: "club", Password: "a secret"})
	m := mailer(t, mail.Settings{Server: "smtp://" + box.Addr, User: "club", Password: "a secret"})
	box.Refuse(func(string) error { return postbox.Later })
	if err := m.Send(t.Context(), sample()); err == nil || errors.Is(err, notice.ErrRefused) {
		t.Errorf("come again: %v", err)
	}
	box.Refuse(func(string) error { return postbox.Never })
	if err := m.Send(t.Context(), sample()); !errors.Is(err, notice.ErrRefused) {
		t.Errorf("nobody of that name: %v", err)
	}
	box.Refuse(nil)
	if err := m.Send(t.Context(), sample()); err != nil || box.Letters()[0].User != "club" {
		t.Errorf("%v", err)
	}
	wrong := mailer(t, mail.Settings{Server: "smtp://" + box.Addr, User: "club", Password: "another"})
	if err := wrong.Send(t.Context(), sample()); err == nil || errors.Is(err, notice.ErrRefused) {
		t.Errorf("a wrong password may be mended: %v", err)
	}
	box.Deaf(true)
	if err := m.Send(t.Context(), sample()); err == nil || errors.Is(err, notice.ErrRefused) {
		t.Errorf("whether it was taken is not known: %v", err)
	}
}

func TestSettings(t *testing.T) {
	t.Parallel()
	for _, s := range []mail.Settings{
		{Server: "", From: "a@b.example"},
		{Server: "http://mail.example", From: "a@b.example"},
		{Server: "smtp://u:p@mail.example", From: "a@b.example"},
		{Server: "smtp://mail.example/path", From: "a@b.example"},
		{Server: "smtp://mail.example", From: "nobody"},
		{Server: "smtp://mail.example:0", From: "a@b.example"},
	} {
		if _, err := mail.New(s); err == nil {
			t.Errorf("%+v is taken", s)
		}
	}
	if m := mailer(t, mail.Settings{Server: "smtps://mail.example"}); m.Domain() != "club.example" {
		t.Errorf("domain %q", m.Domain())
	}
}

// FuzzHeaders holds that whatever stands in a letter, no header is added by it, and the letter goes to one address.
func FuzzHeaders(f *testing.F) {
	f.Add("pat@club.example", "subject\r\nBcc: all@club.example", "text\r\n.\r\nMAIL FROM:<x@y.example>", "id@club.example")
	f.Add("a@b.example\r\nRCPT TO:<c@d.example>", "s", "t", "i\r\nBcc: x@y.example")
	f.Add("a@b.example,c@d.example", "s\u2028t", "t", "i> <j@k.example")
	f.Add("<a@b.example>", "=?utf-8?q?a=0D=0ABcc:_x?=", "--boundary", "")
	f.Add(`"a b"@c.example`, "\x00", "\x00", "i@d.example")
	m, err := mail.New(mail.Settings{Server: "smtp://mail.example", From: "Tiedown <tiedown@club.example>"})
	if err != nil {
		f.Fatal(err)
	}
	usual := []string{
		"Auto-Submitted", "Content-Type", "Date", "From", "List-Unsubscribe", "List-Unsubscribe-Post", "Message-Id", "Mime-Version", "Subject", "To",
	}
	f.Fuzz(func(t *testing.T, to, subject, text, id string) {
		l := notice.Letter{Subject: subject, Opening: text, Sections: []notice.Section{{Title: subject, Lines: []string{text}}}}
		raw, err := m.Written(l.Addressed(id, to, noon, notice.Links{Why: text, Stop: stop, StopAll: stop, Kind: notice.Digest}))
		if err != nil {
			return
		}
		got, err := netmail.ReadMessage(bytes.NewReader(raw))
		if err != nil {
			t.Fatalf("%v in %q", err, raw)
		}
		for header, values := range got.Header {
			if len(values) != 1 || !strings.Contains(strings.Join(usual, " "), header) {
				t.Errorf("header %s: %q", header, values)
			}
		}
		if all, err := got.Header.AddressList("To"); err != nil || len(all) != 1 || !strings.EqualFold(all[0].Address, to) {
			t.Errorf("to %v %v, want %q", all, err, to)
		}
		if _, bodies := parts(t, raw); len(bodies) != 2 {
			t.Errorf("%d parts", len(bodies))
		}
	})
}

// TestALetterThatWasTakenIsSent, though the server hangs up without a goodbye.
func TestALetterThatWasTakenIsSent(t *testing.T) {
	t.Parallel()
	listener, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = listener.Close() })
	go func() {
		conn, err := listener.Accept()
		if err != nil {
			return
		}
		defer conn.Close()
		say := func(s string) { _, _ = io.WriteString(conn, s+"\r\n") }
		say("220 mail.example")
		inData := false
		for lines := bufio.NewScanner(conn); lines.Scan(); {
			switch line := lines.Text(); {
			case inData && line == ".":
				say("250 it is taken")
				return
			case inData:
			case line == "DATA":
				inData = true
				say("354 go on")
			default:
				say("250 mail.example")
			}
		}
	}()
	if err := mailer(t, mail.Settings{Server: "smtp://" + listener.Addr().String()}).Send(t.Context(), sample()); err != nil {
		t.Error(err)
	}
}
