package demo

import (
	"context"
	"fmt"

	"tiedown/internal/hangar"
	"tiedown/internal/walkaround"
)

// trainerSerial is the invented serial number of the trainer.
const trainerSerial = "T140-0057"

// What the trainer's meters show. The hour meter runs on the ground as well, the tachometer by the speed of the engine: neither
// is its time in service, which is that of its facts.
var trainerHobbs, trainerTach, trainerInService = 2103.4, 1875.2, 4312.4

// loadChecklists gives the trainer its walkaround.
func (l *loader) loadChecklists(ctx context.Context) error {
	template, err := parse(l.service.AddChecklistTemplate(ctx, l.who, hangar.ChecklistEntry{
		Type: fleet[0].typ, CSV: string(trainerChecklist),
	}, l.once("checklist"), func(t walkaround.Template) ([]byte, error) { return id(t.ID) }))
	if err != nil {
		return fmt.Errorf("checklist of the trainer: %w", err)
	}
	aircraft := l.aircraft[fleet[0].file]
	_, err = l.service.ChangeChecklist(ctx, l.who, walkaround.AirframeChecklist{Aircraft: aircraft, Template: template, Serial: trainerSerial},
		l.once("checklist of %s", fleet[0].registration), func(hangar.AircraftChecklist) ([]byte, error) { return id(aircraft) })
	if err != nil {
		return fmt.Errorf("checklist of %s: %w", fleet[0].registration, err)
	}
	return nil
}
