// Package cloudevent writes an event down as programs are told of it: in the JSON format of CloudEvents 1.0.
//
// It owns that form, the same for whoever is called and whoever asks. It does not own the events, or how they get there.
package cloudevent

import (
	"encoding/json"
	"fmt"
	"time"

	"tiedown/internal/techlog"
)

// cloudEvent is an event in the JSON format of CloudEvents 1.0, with its extension sequence.
type cloudEvent struct {
	SpecVersion     string `json:"specversion"`
	ID              string `json:"id"`
	Source          string `json:"source"`
	Type            string `json:"type"`
	Subject         string `json:"subject"`
	Time            string `json:"time"`
	DataContentType string `json:"datacontenttype"`
	Sequence        string `json:"sequence"`
	Data            data   `json:"data"`
}

// data is what an event tells. It names records and says no more of them: whoever may read them asks for them.
type data struct {
	Kind     string               `json:"kind"`
	Place    int64                `json:"place"`
	Aircraft *techlog.ID          `json:"aircraft,omitempty"`
	Subject  techlog.ID           `json:"subject"`
	By       string               `json:"by"`
	Changes  []techlog.HoldChange `json:"changes"`
}

// Envelope writes an event down as it is sent: the same event gives the same bytes, with every attempt. The source is the
// organization, which keeps its identifier wherever its server goes; places are written with as many digits each, so that
// they sort as text, as the extension asks.
func Envelope(organization techlog.ID, e techlog.Event) ([]byte, error) {
	d := data{Kind: e.Kind, Place: e.Place, Subject: e.Subject, By: e.By, Changes: e.Changes}
	if !e.Aircraft.IsZero() {
		d.Aircraft = &e.Aircraft
	}
	if d.Changes == nil {
		d.Changes = []techlog.HoldChange{}
	}
	return json.Marshal(cloudEvent{
		SpecVersion: "1.0", ID: e.ID.String(), Source: "urn:uuid:" + organization.String(), Type: "tiedown." + e.Kind,
		Subject: e.Subject.String(), Time: e.At.UTC().Format(time.RFC3339Nano), DataContentType: "application/json",
		Sequence: fmt.Sprintf("%020d", e.Place), Data: d,
	})
}
