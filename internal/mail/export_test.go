package mail

import (
	"bytes"

	"tiedown/internal/notice"
)

// Written is a letter as a server is handed it.
func (m *Mailer) Written(letter notice.Mail) ([]byte, error) {
	message, err := m.message(letter)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	_, err = message.WriteTo(&b)
	return b.Bytes(), err
}
