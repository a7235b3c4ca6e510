package notice

import (
	"errors"
	"html"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Letter is what a note says.
type Letter struct {
	Subject  string    `json:"subject"`
	Opening  string    `json:"opening,omitempty"`
	Sections []Section `json:"sections"`
	Caution  string    `json:"caution"` // what every answer says: that it is an aid
}

// Section is a part of a letter: a heading and lines under it.
type Section struct {
	Title string   `json:"title"`
	Lines []string `json:"lines"`
}

// Mail is a letter that is ready to be sent to one person.
type Mail struct {
	ID      string // of the message: the same however often the letter is sent (RFC 5322, 3.6.4)
	To      string // address
	Subject string // one line
	Text    string
	HTML    string
	At      time.Time
	Stop    string // address at which this kind of note is stopped without signing in (RFC 2369, RFC 8058); empty: there is none
}

// ErrRefused is that a mail will never be taken, however often it is sent.
var ErrRefused = errors.New("the mail is refused for good")

// maxSubject bounds a subject, in bytes, so that it stays one line of a list of mails.
const maxSubject = 150

// OneLine is text as one line of at most so many bytes: without control characters, and cut between letters.
func OneLine(s string, most int) string {
	s = strings.ToValidUTF8(s, "\ufffd")
	s = strings.Join(strings.FieldsFunc(s, func(r rune) bool {
		return unicode.IsSpace(r) || unicode.IsControl(r) || unicode.In(r, unicode.Zl, unicode.Zp, unicode.Cf)
	}), " ")
	if len(s) <= most {
		return s
	}
	cut := max(most-len("…"), 0)
	for cut > 0 && !utf8.RuneStart(s[cut]) {
		cut--
	}
	return strings.TrimSpace(s[:cut]) + "…"
}

// Links are where a reader of a mail can go.
type Links struct {
	Why     string // this person gets it: one sentence
	Stop    string // stops this kind of note
	StopAll string // stops every mail of the organization
	Kind    Kind
}

// Text is the letter for reading as it is.
func (l *Letter) Text(links Links) string {
	var b strings.Builder
	line := func(s string) { b.WriteString(s + "\n") }
	if l.Opening != "" {
		line(plain(l.Opening) + "\n")
	}
	for _, s := range l.Sections {
		line(plain(s.Title))
		for _, text := range s.Lines {
			line("- " + strings.ReplaceAll(plain(text), "\n", "\n  "))
		}
		line("")
	}
	line(plain(l.Caution) + "\n")
	line("-- ") // what follows is no part of the message (RFC 3676, 4.3)
	line(plain(links.Why))
	line("No more of " + links.Kind.Words() + ": " + links.Stop)
	line("No more mail at all: " + links.StopAll)
	return b.String()
}

// plain is text without control characters but the line feed.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))
}

// HTML is the same for readers that show it: nothing is loaded from anywhere, and nothing is told by color alone.
func (l *Letter) HTML(links Links) string {
	var b strings.Builder
	text := func(s string) string { return strings.ReplaceAll(html.EscapeString(plain(s)), "\n", "<br>\n") }
	b.WriteString("<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>" + text(l.Subject) + "</title></head>\n")
	b.WriteString("<body style=\"font-family:sans-serif;line-height:1.4;max-width:40em\">\n")
	if l.Opening != "" {
		b.WriteString("<p>" + text(l.Opening) + "</p>\n")
	}
	for _, s := range l.Sections {
		b.WriteString("<h2 style=\"font-size:1.1em\">" + text(s.Title) + "</h2>\n<ul>\n")
		for _, item := range s.Lines {
			b.WriteString("<li>" + text(item) + "</li>\n")
		}
		b.WriteString("</ul>\n")
	}
	b.WriteString("<p><em>" + text(l.Caution) + "</em></p>\n<hr>\n<p style=\"font-size:0.85em\">" + text(links.Why) + "<br>\n")
	b.WriteString("<a href=\"" + html.EscapeString(links.Stop) + "\">No more of " + text(links.Kind.Words()) + "</a><br>\n")
	b.WriteString("<a href=\"" + html.EscapeString(links.StopAll) + "\">No more mail at all</a></p>\n</body></html>\n")
	return b.String()
}

// Addressed makes the mail to a person.
func (l *Letter) Addressed(id, to string, at time.Time, links Links) Mail {
	return Mail{ID: id, To: to, Subject: OneLine(l.Subject, maxSubject), Text: l.Text(links), HTML: l.HTML(links), At: at, Stop: links.Stop}
}
