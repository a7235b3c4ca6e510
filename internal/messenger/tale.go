package messenger

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/notice"
	"tiedown/internal/techlog"
)

// tale is what an event tells, in the parts that people want to hear or not, the weightiest first.
type tale struct {
	aircraft techlog.ID
	parts    []part
}

// part is what an event tells of one kind.
type part struct {
	kind    notice.Kind
	subject string
	section notice.Section
	departs time.Time // of the first flight that is held
}

// caution is what every letter says: what every answer does, and that a letter grows old.
func (m *Messenger) caution() string {
	return m.hangar.Book().Rules.Term(airworthiness.TermCaution) + " What stands here was so when it was written: look again before you fly."
}

// letterOf puts parts into a letter.
func (m *Messenger) letterOf(parts []part) *notice.Letter {
	l := &notice.Letter{Subject: parts[0].subject, Caution: m.caution()}
	for _, p := range parts {
		l.Sections = append(l.Sections, p.section)
	}
	return l
}

// taleOf says what an event tells; nil if it is nothing that people are told of.
func (m *Messenger) taleOf(ctx context.Context, o techlog.Organization, e *techlog.Event) (*tale, error) {
	var held, released []techlog.HoldChange
	for _, c := range e.Changes {
		// Whoever plans a flight is shown at once how it is judged.
		mayNow := permits(c.Is) && !c.Blocked
		if c.Was == "" || (permits(c.Was) && !c.WasBlocked) == mayNow {
			continue
		}
		if mayNow {
			released = append(released, c)
		} else {
			held = append(held, c)
		}
	}
	filed, ahead := e.Kind == "squawk.filed", e.Kind == hangar.DueAhead
	if len(held)+len(released) == 0 && !filed && !ahead || e.Aircraft.IsZero() {
		return nil, nil
	}
	aircraft, err := m.records.Aircraft(ctx, o.ID, e.Aircraft)
	if err != nil {
		return nil, notThere(err)
	}
	t := &tale{aircraft: e.Aircraft}
	about := func(s string) string { return aircraft.Registration + ": " + s }
	if err := m.tellHeld(ctx, o.ID, t, about, held); err != nil {
		return nil, err
	}
	if err := m.tellReleased(ctx, o.ID, t, about, released); err != nil {
		return nil, err
	}
	switch {
	case filed:
		err = m.tellSquawk(ctx, o.ID, t, about, e)
	case ahead:
		err = m.tellAhead(ctx, o.ID, t, about, e)
	}
	if err != nil || len(t.parts) == 0 {
		return nil, err
	}
	return t, nil
}

// permits reports whether a flight of a verdict may go, as far as that goes.
func permits(verdict string) bool { return !(techlog.Hold{Verdict: verdict}).Holds() }

// standing is how a flight stands in a word or two: its verdict, and whether a block holds it.
func standing(verdict string, blocked bool) string {
	switch {
	case !blocked:
		return verdict
	case permits(verdict):
		return "blocked"
	default:
		return verdict + " and blocked"
	}
}

// notThere is nil for an error that says there is no such record: nothing is told of it then.
func notThere(err error) error {
	if techlog.KindOf(err) == techlog.KindNotFound {
		return nil
	}
	return err
}

func (m *Messenger) tellHeld(ctx context.Context, org techlog.ID, t *tale, about func(string) string, held []techlog.HoldChange) error {
	if len(held) == 0 {
		return nil
	}
	p := part{kind: notice.FlightHeld, section: notice.Section{Title: about("flights that may no longer go as planned")}}
	n, err := m.flightLines(ctx, org, &p, held)
	p.subject = about(countOf(n, "flight is held", "flights are held"))
	if err == nil && n > 0 {
		t.parts = append(t.parts, p)
	}
	return err
}

func (m *Messenger) tellReleased(ctx context.Context, org techlog.ID, t *tale, about func(string) string, released []techlog.HoldChange) error {
	if len(released) == 0 {
		return nil
	}
	p := part{kind: notice.FlightReleased, section: notice.Section{Title: about("flights that may go again")}}
	n, err := m.flightLines(ctx, org, &p, released)
	p.subject = about(countOf(n, "flight is released", "flights are released"))
	if err == nil && n > 0 {
		t.parts = append(t.parts, p)
	}
	return err
}

// maxLines bounds how many flights a letter names; the others are counted.
const maxLines = 20

// flightLines puts flights into a part, the first to depart first, and counts them. Those that have been taken off the
// plan meanwhile, or have ended, are left out.
func (m *Messenger) flightLines(ctx context.Context, org techlog.ID, p *part, changes []techlog.HoldChange) (int, error) {
	type changed struct {
		techlog.HoldChange
		hangar.HeldFlight
	}
	var all []changed
	for _, c := range changes {
		f, err := m.hangar.Flight(ctx, theProgram(org), c.Flight)
		switch {
		case passing(ctx, err):
			return 0, err
		case err != nil: // its reasons cannot be told; that it is held can
			if f.Flight, err = m.records.Flight(ctx, org, c.Flight); notThere(err) != nil {
				return 0, err
			}
		}
		if f.Flight.State == techlog.Planned && f.Flight.Arrives.After(m.now()) {
			all = append(all, changed{c, f})
		}
	}
	slices.SortStableFunc(all, func(a, b changed) int { return a.HeldFlight.Flight.Departs.Compare(b.HeldFlight.Flight.Departs) })
	for i := range all {
		if i == 0 {
			p.departs = all[i].HeldFlight.Flight.Departs
		}
		if i == maxLines {
			p.section.Lines = append(p.section.Lines, fmt.Sprintf("and %d more", len(all)-maxLines))
			break
		}
		c := &all[i].HoldChange
		line := flightLine(&all[i].HeldFlight.Flight) + fmt.Sprintf(": %s (was %s).", standing(c.Is, c.Blocked), standing(c.Was, c.WasBlocked))
		if !permits(c.Is) || c.Blocked {
			why, err := m.whyOf(ctx, org, &all[i].HeldFlight)
			if err != nil {
				return 0, err
			}
			line = strings.Join(append([]string{line}, why...), "\n")
		}
		p.section.Lines = append(p.section.Lines, line)
	}
	return len(all), nil
}

// flightLine names a flight: when, in the time of where it departs, from where over where to where, and what for.
func flightLine(f *techlog.Flight) string {
	zone, err := time.LoadLocation(f.Zone)
	if err != nil {
		zone = time.UTC
	}
	path := []string{placeName(&f.Legs[0].From)}
	for i := range f.Legs {
		path = append(path, placeName(&f.Legs[i].To))
	}
	arrives := "15:04 MST"
	if f.Arrives.In(zone).Format(time.DateOnly) != f.Departs.In(zone).Format(time.DateOnly) {
		arrives = "Mon 2 Jan, 15:04 MST"
	}
	line := fmt.Sprintf("%s to %s, %s", f.Departs.In(zone).Format("Mon 2 Jan 2006, 15:04"), f.Arrives.In(zone).Format(arrives), strings.Join(path, " to "))
	if f.Purpose != "" {
		line += ", " + f.Purpose
	}
	return line
}

func placeName(s *techlog.Spot) string { return cmp.Or(s.Ident, s.Name, "elsewhere") }

// whyOf says why a flight is held, and what releases it: the blocks that somebody has put on the aircraft, and each leg that
// may not go, where it has several.
func (m *Messenger) whyOf(ctx context.Context, org techlog.ID, h *hangar.HeldFlight) ([]string, error) {
	var lines []string
	for _, id := range h.Flight.Hold.Blocks {
		b, err := m.records.Block(ctx, org, id)
		if notThere(err) != nil {
			return nil, err
		}
		if err != nil {
			continue
		}
		zone, err := time.LoadLocation(h.Flight.Zone)
		if err != nil {
			zone = time.UTC
		}
		until := "until further notice"
		if !b.Until.IsZero() {
			until = "until " + b.Until.In(zone).Format("Mon 2 Jan 2006, 15:04 MST")
		}
		lines = append(lines, fmt.Sprintf("Blocked %s (%s): %s", until, b.Kind, b.Words))
	}
	for i := range h.Answers {
		a := &h.Answers[i]
		if a.Permits {
			continue
		}
		of := ""
		if len(h.Answers) > 1 {
			of = fmt.Sprintf("leg %d, ", i+1)
		}
		lines = append(lines, capital(of+"why: ")+a.Summary)
		if steps := releases(a); len(steps) > 0 {
			lines = append(lines, capital(of+"what releases it: ")+strings.Join(steps, "; ")+".")
		}
	}
	return lines, nil
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// maxSteps bounds how many steps a letter names.
const maxSteps = 5

// releases lists what is to be done, or to be supplied, about the worst of the findings: whatever is done about the others
// releases nothing by itself.
func releases(a *casefile.Answer) []string {
	var steps []string
	add := func(step string) {
		if !slices.Contains(steps, step) && len(steps) < maxSteps {
			steps = append(steps, step)
		}
	}
	for i := range a.Findings {
		f := &a.Findings[i]
		if f.Verdict != a.Verdict {
			continue
		}
		if f.Defect != "" && len(f.ToDo)+len(f.Missing) == 0 {
			add("squawk " + f.Defect + " repaired, and the aircraft returned to service")
		}
		for _, t := range f.ToDo {
			add(strings.TrimSuffix(t.Action, ".") + " (" + t.Citation + ")")
		}
		for _, missing := range f.Missing {
			add("supply " + missing.Fact + ": " + strings.TrimSuffix(missing.Asks, "."))
		}
	}
	return steps
}

func (m *Messenger) tellSquawk(ctx context.Context, org techlog.ID, t *tale, about func(string) string, e *techlog.Event) error {
	q, err := m.records.Squawk(ctx, org, e.Subject)
	if err != nil {
		return notThere(err)
	}
	t.parts = append(t.parts, part{
		kind: notice.SquawkFiled, subject: about("squawk " + q.Label() + ", " + q.Words),
		section: notice.Section{Title: about("a squawk was filed"), Lines: []string{squawkLine(&q) + "\nReported by " + q.ReportedBy + "."}},
	})
	return nil
}

func squawkLine(q *techlog.Squawk) string {
	return fmt.Sprintf("Squawk %s, %s: %s", q.Label(), strings.TrimSpace(q.Kind+" "+cmp.Or(q.Unit, q.Item)), q.Words)
}

func (m *Messenger) tellAhead(ctx context.Context, org techlog.ID, t *tale, about func(string) string, e *techlog.Event) error {
	w, err := m.records.Warning(ctx, org, e.Subject)
	if err != nil {
		return notThere(err)
	}
	t.parts = append(t.parts, part{
		kind: notice.DueAhead, subject: about(w.What + ", " + w.Due + ", " + inDays(w.Days)),
		section: notice.Section{Title: about(w.What + ", " + w.Due), Lines: []string{w.Says}},
	})
	return nil
}

func inDays(n int) string {
	switch n {
	case 0:
		return "today"
	case 1:
		return "in 1 day"
	}
	return fmt.Sprintf("in %d days", n)
}

func countOf(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
