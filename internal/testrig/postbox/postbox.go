// Package postbox is a server of mail for tests: it speaks SMTP on an address of its own, as a program reaches any other
// over the network, and keeps what it is handed.
//
// It owns how it may be made to refuse, and whether its line is secret. It does not own what a mail must look like.
package postbox

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"io"
	"log"
	"math/big"
	"net"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
)

// Letter is a mail as it was handed over.
type Letter struct {
	From string // of the envelope
	To   []string
	Raw  []byte
	User string // who sent it; empty: nobody was asked
}

// Settings say how a server is. The zero value takes everything over a line in the clear.
type Settings struct {
	StartTLS bool // the line may be made secret
	TLS      bool // it is secret from its first byte
	User     string
	Password string
}

// Postbox is a running server.
type Postbox struct {
	Addr  string         // host:port
	Roots *x509.CertPool // whom to believe about it; nil without TLS

	settings Settings
	server   *smtp.Server
	mu       sync.Mutex
	letters  []Letter
	refuse   func(to string) error
	deaf     bool
}

// Open starts a server that ends with the test.
func Open(t testing.TB, s Settings) *Postbox {
	t.Helper()
	p := &Postbox{settings: s}
	p.server = smtp.NewServer(p)
	p.server.Domain, p.server.AllowInsecureAuth = "postbox.example", true
	p.server.ErrorLog = log.New(io.Discard, "", 0)
	p.server.ReadTimeout, p.server.WriteTimeout = time.Minute, time.Minute
	listener, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p.Addr = listener.Addr().String()
	if s.StartTLS || s.TLS {
		config := p.certify(t)
		if s.TLS {
			listener = tls.NewListener(listener, config)
		} else {
			p.server.TLSConfig = config
		}
	}
	done := make(chan error, 1)
	go func() { done <- p.server.Serve(listener) }()
	t.Cleanup(func() {
		if err := errors.Join(p.server.Close(), <-done); err != nil && !errors.Is(err, smtp.ErrServerClosed) {
			t.Errorf("the postbox: %v", err)
		}
	})
	return p
}

// certify makes a certificate for this machine that nobody but Roots believes.
func (p *Postbox) certify(t testing.TB) *tls.Config {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "postbox"}, DNSNames: []string{"mail.example", "localhost"},
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
	}
	raw, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	certificate, err := x509.ParseCertificate(raw)
	if err != nil {
		t.Fatal(err)
	}
	p.Roots = x509.NewCertPool()
	p.Roots.AddCert(certificate)
	return &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{raw}, PrivateKey: key}}, MinVersion: tls.VersionTLS12}
}

// Letters are those that were taken, oldest first.
func (p *Postbox) Letters() []Letter {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]Letter(nil), p.letters...)
}

// Refuse has letters to somebody refused as a function says; nil takes them all again.
func (p *Postbox) Refuse(f func(to string) error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.refuse = f
}

// Deaf has the server take letters and hang up before it says so.
func (p *Postbox) Deaf(deaf bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.deaf = deaf
}

// Later is an answer that may pass, Never one that is final.
var (
	Later = &smtp.SMTPError{Code: 451, EnhancedCode: smtp.EnhancedCode{4, 7, 1}, Message: "come again"}
	Never = &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "nobody of that name"}
)

// NewSession implements smtp.Backend.
func (p *Postbox) NewSession(c *smtp.Conn) (smtp.Session, error) { return &session{p: p, c: c}, nil }

type session struct {
	p      *Postbox
	c      *smtp.Conn
	letter Letter
}

// AuthMechanisms implements smtp.AuthSession.
func (s *session) AuthMechanisms() []string {
	if s.p.settings.User == "" {
		return nil
	}
	return []string{sasl.Plain}
}

// Auth implements smtp.AuthSession.
func (s *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != s.p.settings.User || password != s.p.settings.Password {
			return smtp.ErrAuthFailed
		}
		s.letter.User = user
		return nil
	}), nil
}

// Mail implements smtp.Session.
func (s *session) Mail(from string, _ *smtp.MailOptions) error {
	if s.p.settings.User != "" && s.letter.User == "" {
		return smtp.ErrAuthRequired
	}
	s.letter.From, s.letter.To = from, nil
	return nil
}

// Rcpt implements smtp.Session.
func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.p.mu.Lock()
	defer s.p.mu.Unlock()
	if s.p.refuse != nil {
		if err := s.p.refuse(to); err != nil {
			return err
		}
	}
	s.letter.To = append(s.letter.To, to)
	return nil
}

// Data implements smtp.Session.
func (s *session) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	s.letter.Raw = raw
	s.p.mu.Lock()
	defer s.p.mu.Unlock()
	s.p.letters = append(s.p.letters, s.letter)
	if s.p.deaf {
		_ = s.c.Conn().Close()
	}
	return nil
}

// Reset implements smtp.Session.
func (s *session) Reset() {}

// Logout implements smtp.Session.
func (s *session) Logout() error { return nil }
