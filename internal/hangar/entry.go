package hangar

import (
	"context"
	"fmt"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// MaintenanceEntry is what the maintenance record entry of a squawk says so far (14 CFR 43.9(a)), to be printed, completed
// and signed by hand. What nobody has signed is left empty: it is for the person who signs to write.
type MaintenanceEntry struct {
	Aircraft  techlog.Aircraft
	Squawk    techlog.Squawk
	Work      string    // what was found and done, with the data that it was done to; empty if no work is on record
	Completed time.Time // date of completion; zero if the work is not finished
	DoneBy    string    // who did the work, where that is not who signed for it
	Signer    *techlog.Signature
	Zone      *time.Location // of the aircraft's base
	Made      time.Time
}

// MaintenanceEntry gives the entry of the last work that was signed on a squawk. Kind not-found.
func (s *Service) MaintenanceEntry(ctx context.Context, who techlog.Principal, squawk techlog.ID) (MaintenanceEntry, error) {
	story, err := s.Squawk(ctx, who, squawk)
	if err != nil {
		return MaintenanceEntry{}, err
	}
	a, err := s.store.Aircraft(ctx, who.Organization, story.Squawk.Aircraft)
	if err != nil {
		return MaintenanceEntry{}, err
	}
	zone, err := s.zoneOf(ctx, who.Organization, a.Base)
	if err != nil {
		return MaintenanceEntry{}, err
	}
	e := MaintenanceEntry{Aircraft: a, Squawk: story.Squawk, Zone: zone, Made: s.now().In(zone)}
	for i := range story.Signatures {
		if err := e.tell(&story.Signatures[i]); err != nil {
			return MaintenanceEntry{}, err
		}
	}
	return e, nil
}

// tell takes what a signature says of the work. A later one stands in place of an earlier.
func (e *MaintenanceEntry) tell(sig *techlog.Signature) error {
	act, err := techlog.ActOf(sig.Text)
	if err != nil {
		return fmt.Errorf("signature %s: %w", sig.ID, err)
	}
	switch act.Action {
	case string(techlog.StepWork), string(techlog.StepOutOfUse):
		e.Work, e.DoneBy, e.Signer = workInWords(&act), act.PerformedBy, sig
	case string(techlog.StepReturn):
		e.Signer = sig
	case string(techlog.StepCorrect):
		e.Work += "\nCorrection of " + sig.Day + ", " + sig.By() + ": " + act.Words
		return nil
	default:
		return nil // it tells of no work
	}
	if act.Completed == "" {
		e.Completed = time.Time{}
		return nil
	}
	e.Completed, err = time.Parse(time.DateOnly, act.Completed)
	return err
}

// workInWords is the description of the work, or what it refers to: 43.9(a)(1).
func workInWords(act *casefile.Act) string {
	parts := []string{act.Found, act.Done, act.Entry}
	if act.Method != "" {
		parts = append(parts, "Item "+act.Method+", placarded: "+act.Placard)
	}
	if act.Data != "" {
		parts = append(parts, "Data: "+act.Data)
	}
	for _, p := range act.PartsUsed {
		parts = append(parts, strings.TrimSpace("Part used: "+p.Part+" "+p.Number))
	}
	var said []string
	for _, p := range parts {
		if p = strings.TrimSpace(p); p != "" {
			said = append(said, p)
		}
	}
	return strings.Join(said, "\n")
}
