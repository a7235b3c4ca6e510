// Package mail hands letters to a server of mail (SMTP, RFC 5321).
//
// It owns the library for it, the secrecy of the line, the form of a message and its headers, and what of a server's
// answer is final. It does not own what a letter says, whom it is for, or when it is sent again.
package mail

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/mail"
	"net/url"
	"strconv"
	"strings"
	"time"

	library "github.com/wneessen/go-mail"

	"tiedown/internal/notice"
)

// patience is how long a server may take to answer.
const patience = 30 * time.Second

// Settings say which server takes the letters.
type Settings struct {
	Server   string // smtp://host:port, or smtps:// for a line that is secret from its first byte
	User     string // who sends; empty: the server does not ask
	Password string
	From     string         // who writes, such as Tiedown <tiedown@club.example>
	Roots    *x509.CertPool // whom to believe about the server; nil: whom the system believes
}

// Mailer sends letters. It is safe for use by one at a time.
type Mailer struct {
	host    string
	options []library.Option
	from    mail.Address
}

// Ports where the address of a server names none: submission, with STARTTLS and with TLS from the first byte (RFC 8314).
const (
	submission  = 587
	submissions = 465
)

// New makes a mailer. Nothing is sent, and no server asked. On the way to another machine the line must be secret: a
// server without STARTTLS gets nothing.
func New(s Settings) (*Mailer, error) {
	u, err := url.Parse(s.Server)
	if err != nil || u.Scheme != "smtp" && u.Scheme != "smtps" || u.Hostname() == "" || u.User != nil || u.Path != "" || u.RawQuery != "" || u.Fragment != "" {
		return nil, errors.New("want smtp:// or smtps:// and a server, such as smtp://mail.example:587")
	}
	from, err := mail.ParseAddress(s.From)
	if err != nil {
		return nil, fmt.Errorf("who writes: want an address such as Tiedown <tiedown@club.example>: %w", err)
	}
	port := submission
	if u.Scheme == "smtps" {
		port = submissions
	}
	if u.Port() != "" {
		if port, err = strconv.Atoi(u.Port()); err != nil || port < 1 || port > 65535 {
			return nil, errors.New("the port of the server is none")
		}
	}
	m := &Mailer{host: u.Hostname(), from: *from}
	m.options = []library.Option{
		library.WithPort(port), library.WithTimeout(patience),
		library.WithTLSConfig(&tls.Config{ServerName: u.Hostname(), RootCAs: s.Roots, MinVersion: tls.VersionTLS12}),
		library.WithHELO(domainOf(from.Address)),
	}
	secret := true
	switch {
	case u.Scheme == "smtps":
		m.options = append(m.options, library.WithSSL())
	case isLoopback(u.Hostname()): // the line does not leave the machine
		secret = false
		m.options = append(m.options, library.WithTLSPolicy(library.NoTLS))
	default:
		m.options = append(m.options, library.WithTLSPolicy(library.TLSMandatory))
	}
	if s.User != "" {
		way := library.SMTPAuthAutoDiscover
		if !secret {
			way = library.SMTPAuthPlainNoEnc
		}
		m.options = append(m.options, library.WithSMTPAuth(way), library.WithUsername(s.User), library.WithPassword(s.Password))
	}
	return m, nil
}

func isLoopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

func domainOf(address string) string { return address[strings.LastIndexByte(address, '@')+1:] }

// Domain is that of whoever writes: identifiers of messages end with it.
func (m *Mailer) Domain() string { return domainOf(m.from.Address) }

// Send hands one letter to the server. An error that is notice.ErrRefused is final; every other may pass.
func (m *Mailer) Send(ctx context.Context, letter notice.Mail) error {
	message, err := m.message(letter)
	if err != nil {
		return fmt.Errorf("%w: %w", notice.ErrRefused, err)
	}
	client, err := library.NewClient(m.host, m.options...)
	if err != nil {
		return err
	}
	err = client.DialAndSendWithContext(ctx, message)
	if message.IsDelivered() {
		return nil // that the server did not say goodbye changes nothing
	}
	return answered(err)
}

// message writes a letter down. What it refuses cannot be sent to anybody.
func (m *Mailer) message(letter notice.Mail) (*library.Msg, error) {
	// What a person gave as an address is one address, and nothing beside it.
	to, err := mail.ParseAddress(letter.To)
	if err != nil || to.Name != "" || !strings.EqualFold(to.Address, letter.To) || !oneLine(letter.To) {
		return nil, errors.New("the address is none that mail can be sent to")
	}
	if !oneLine(letter.ID) || !oneLine(letter.Stop) || !oneLine(letter.Subject) || strings.ContainsAny(letter.ID+letter.Stop, "<> ") {
		return nil, errors.New("a header would have more than one line")
	}
	message := library.NewMsg(library.WithNoDefaultUserAgent())
	message.FromMailAddress(&m.from)
	message.ToMailAddress(to)
	message.Subject(letter.Subject)
	message.SetMessageIDWithValue(letter.ID)
	message.SetDateWithValue(letter.At)
	message.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834, 5
	if letter.Stop != "" {
		message.SetGenHeaderPreformatted("List-Unsubscribe", "<"+letter.Stop+">")
	}
	if strings.HasPrefix(letter.Stop, "https://") { // which RFC 8058, 3.1, asks for
		message.SetGenHeader("List-Unsubscribe-Post", "List-Unsubscribe=One-Click")
	}
	message.SetBodyString(library.TypeTextPlain, letter.Text)
	message.AddAlternativeString(library.TypeTextHTML, letter.HTML)
	return message, nil
}

func oneLine(s string) bool { return s == notice.OneLine(s, len(s)+1) }

// answered tells a final answer from one that may pass. A server says by the first digit of its answer whether it makes
// sense to send again (RFC 5321, 4.2.1); whoever cannot be reached, or does not know who sends, may be mended.
func answered(err error) error {
	var sent *library.SendError
	if !errors.As(err, &sent) {
		return err
	}
	switch sent.Reason {
	case library.ErrSMTPRcptTo, library.ErrSMTPData, library.ErrSMTPDataClose:
		if sent.ErrorCode() >= 500 {
			return fmt.Errorf("%w: %w", notice.ErrRefused, err)
		}
	default:
	}
	return err
}
