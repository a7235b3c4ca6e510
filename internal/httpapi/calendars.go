package httpapi

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/api/server"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/papers/calendar"
	"tiedown/internal/techlog"
)

// ListCalendarFeeds implements server.StrictServerInterface.
func (h *handlers) ListCalendarFeeds(ctx context.Context, r server.ListCalendarFeedsRequestObject) (server.ListCalendarFeedsResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	feeds, err := h.service.CalendarFeeds(ctx, c.who, page)
	if err != nil {
		return nil, err
	}
	feeds, next := cutPage(feeds, w, c.url, func(f techlog.CalendarFeed) string { return after(f.ID) })
	return server.ListCalendarFeeds200JSONResponse{
		Body:    server.CalendarFeeds{Feeds: each(feeds, showCalendarFeed)},
		Headers: server.ListCalendarFeeds200ResponseHeaders{Link: next},
	}, nil
}

// MakeCalendarFeed implements server.StrictServerInterface.
func (h *handlers) MakeCalendarFeed(ctx context.Context, r server.MakeCalendarFeedRequestObject) (server.MakeCalendarFeedResponseObject, error) {
	f, secret, err := h.service.MakeCalendarFeed(ctx, callOf(ctx).who, hangar.NewCalendarFeed{
		Name: r.Body.Name, Aircraft: techlog.ID(given(r.Body.Aircraft)),
	}, nil)
	return server.MakeCalendarFeed201JSONResponse{Feed: showCalendarFeed(f), Url: h.publicURL + "/v1/calendars/" + secret + icsFile}, err
}

// RevokeCalendarFeed implements server.StrictServerInterface.
func (h *handlers) RevokeCalendarFeed(ctx context.Context, r server.RevokeCalendarFeedRequestObject) (server.RevokeCalendarFeedResponseObject, error) {
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.RevokeCalendarFeed(ctx, c.who, techlog.ID(r.Feed), c.once,
		render(&made, http.StatusOK, func(f techlog.CalendarFeed) shown { return shown{body: showCalendarFeed(f)} }))
	return replay(frame, made, err)
}

func showCalendarFeed(f techlog.CalendarFeed) server.CalendarFeed {
	return server.CalendarFeed{
		Id: server.ID(f.ID), Name: f.Name, Aircraft: optionalID(f.Aircraft), Maker: server.ID(f.Maker), Made: f.MadeAt,
		Revoked: optionalInstant(f.Revoked),
	}
}

const (
	icsFile  = ".ics"
	icsMedia = "text/calendar"
)

// DownloadCalendar implements server.StrictServerInterface.
func (h *handlers) DownloadCalendar(ctx context.Context, r server.DownloadCalendarRequestObject) (server.DownloadCalendarResponseObject, error) {
	secret, ok := strings.CutSuffix(r.File, icsFile)
	if !ok {
		return nil, techlog.Errorf(techlog.KindNotFound, "there is no such calendar")
	}
	a, err := h.service.Calendar(ctx, secret)
	if err != nil {
		return nil, err
	}
	out := &ics{name: "availability", body: h.calendarOf(a).ICS()}
	digest := sha256.Sum256(out.body)
	out.tag = strconv.Quote(hex.EncodeToString(digest[:]))
	if seen := r.Params.IfNoneMatch; seen != nil && isAmong(*seen, out.tag) {
		out.body = nil
	}
	return out, nil
}

// ShowFreeBusy implements server.StrictServerInterface.
func (h *handlers) ShowFreeBusy(ctx context.Context, r server.ShowFreeBusyRequestObject) (server.ShowFreeBusyResponseObject, error) {
	f, err := h.freeBusy(ctx, r.Aircraft, r.Params.From, r.Params.Until)
	if err != nil {
		return nil, err
	}
	accept := callOf(ctx).accept
	if weight(accept, icsMedia) > weight(accept, "application/json") {
		return varyingBusy{h.timesOf(f)}, nil
	}
	return varyingBusy{server.ShowFreeBusy200JSONResponse(h.showFreeBusy(f))}, nil
}

// DownloadFreeBusy implements server.StrictServerInterface.
func (h *handlers) DownloadFreeBusy(ctx context.Context, r server.DownloadFreeBusyRequestObject) (server.DownloadFreeBusyResponseObject, error) {
	f, err := h.freeBusy(ctx, r.Aircraft, r.Params.From, r.Params.Until)
	if err != nil {
		return nil, err
	}
	return h.timesOf(f), nil
}

// usualSpan is how long a time is asked about when it is not said.
const usualSpan = 31 * 24 * time.Hour

func (h *handlers) freeBusy(ctx context.Context, aircraft server.ID, from, until *time.Time) (hangar.FreeBusy, error) {
	begins := orElse(from, h.now())
	f, err := h.service.FreeBusy(ctx, callOf(ctx).who, techlog.ID(aircraft), begins, orElse(until, begins.Add(usualSpan)))
	return f, casefile.Renamed(err, func(field string) string { return "query." + field })
}

func (h *handlers) showFreeBusy(f hangar.FreeBusy) server.FreeBusy {
	return server.FreeBusy{
		Aircraft: server.ID(f.Aircraft.ID), Registration: f.Aircraft.Registration, AsOf: f.AsOf, From: f.From, Until: f.Until, Caution: f.Caution,
		Busy: each(f.Busy, func(p hangar.BusyPeriod) server.BusyPeriod {
			shown := server.BusyPeriod{From: p.From, Until: p.Until, Kind: server.BusyPeriodKind(p.Kind), OpenEnded: p.Open, Citations: []string{}}
			if p.Flight != nil {
				shown.Flight = new(server.ID(p.Flight.ID))
				if p.Kind == hangar.Held {
					shown.Citations = h.cited(p.Flight.Hold.Rows)
				}
			}
			if p.Block != nil {
				shown.Block = new(server.ID(p.Block.ID))
			}
			for _, stop := range p.Stops {
				shown.Citations = append(shown.Citations, stop.Citation)
			}
			slices.Sort(shown.Citations)
			shown.Citations = slices.Compact(shown.Citations)
			return shown
		}),
	}
}

// cited gives the citations of rows.
func (h *handlers) cited(rows []string) []string {
	return each(rows, func(row string) string { return h.citation(row) })
}

// asICS are the kinds of period as iCalendar knows them.
var asICS = map[hangar.BusyKind]calendar.Kind{
	hangar.Taken: calendar.Taken, hangar.Held: calendar.Held, hangar.Unavailable: calendar.Unavailable,
}

func (h *handlers) timesOf(f hangar.FreeBusy) *ics {
	times := calendar.FreeBusy{
		UID: h.uid("free-busy", f.Aircraft.ID.String()), Made: f.AsOf, From: f.From, Until: f.Until, Words: f.Caution,
		Busy: each(f.Busy, func(p hangar.BusyPeriod) calendar.Period {
			return calendar.Period{From: p.From, Until: p.Until, Kind: asICS[p.Kind]}
		}),
	}
	return &ics{name: "free-busy-" + f.Aircraft.Registration, body: times.ICS()}
}

// uid names something of a calendar, the same way for ever and as nothing else in the world.
func (h *handlers) uid(kind, id string) string {
	host := "tiedown"
	if u, err := url.Parse(h.publicURL); err == nil && u.Hostname() != "" {
		host = u.Hostname()
	}
	return kind + "-" + id + "@" + host
}

// every is how often a calendar is worth asking for again. Programs that have to know at once listen to events.
const every = 15 * time.Minute

func (h *handlers) calendarOf(a hangar.Availability) calendar.Feed {
	feed := calendar.Feed{Name: a.Feed.Name, Words: a.Caution, Every: every}
	if a.CutShort {
		feed.Words += " This calendar has room for no flight that departs at " + a.Until.UTC().Format(time.RFC3339) + " or later: there are more."
	}
	registrations := map[techlog.ID]string{}
	for i := range a.Aircraft {
		now := &a.Aircraft[i]
		registrations[now.Aircraft.ID] = now.Aircraft.Registration
		if now.Out {
			feed.Events = append(feed.Events, h.outToday(now, a))
		}
	}
	for i := range a.Blocks {
		b := &a.Blocks[i]
		feed.Events = append(feed.Events, h.blockEvent(b, registrations[b.Aircraft], a))
	}
	for i := range a.Flights {
		f := &a.Flights[i]
		feed.Events = append(feed.Events, h.flightEvent(f, registrations[f.Aircraft], a))
	}
	return feed
}

// outToday is the event of an aircraft to which no kind of operation is open. It has the whole day at the base and no other:
// the records say how it is, and not how it will be tomorrow.
func (h *handlers) outToday(now *hangar.AircraftNow, a hangar.Availability) calendar.Event {
	at := a.AsOf.In(now.Zone)
	day := time.Date(at.Year(), at.Month(), at.Day(), 0, 0, 0, 0, now.Zone)
	said := []string{"No kind of operation is open to the aircraft as the records are. Until when is not known."}
	for _, stop := range now.Stops {
		said = append(said, stop.Citation+": "+stop.Words)
	}
	return calendar.Event{
		UID: h.uid("out", now.Aircraft.ID.String()+"-"+day.Format("20060102")), Sequence: now.Version, Changed: day,
		From: day, Until: day.AddDate(0, 0, 1), WholeDays: true, Status: calendar.Confirmed, Busy: true,
		Summary: now.Aircraft.Registration + " not available", Description: paragraphs(said, a.Caution),
	}
}

// blockEvent is the event of a block. One without an end lasts to the end of the calendar, and says that nobody knows.
func (h *handlers) blockEvent(b *techlog.Block, registration string, a hangar.Availability) calendar.Event {
	e := calendar.Event{
		UID: h.uid("block", b.ID.String()), Sequence: b.Version, Changed: b.At, From: b.From, Until: b.Until, Status: calendar.Confirmed, Busy: true,
		Summary: registration + " blocked: " + string(b.Kind),
	}
	said := []string{b.Words}
	if b.Until.IsZero() {
		e.Until = a.Until
		said = append(said, "Until further notice: the end that stands here is that of the calendar.")
	}
	if b.Cancelled {
		e.Status, e.Busy = calendar.Cancelled, false
		said = append(said, "The block was cancelled.")
	}
	e.Description = paragraphs(said, a.Caution)
	return e
}

func (h *handlers) flightEvent(f *techlog.Flight, registration string, a hangar.Availability) calendar.Event {
	e := calendar.Event{
		UID: h.uid("flight", f.ID.String()), Sequence: f.Sequence, Changed: f.ChangedAt, From: f.Departs, Until: f.Arrives,
		Status: calendar.Confirmed, Busy: true, Summary: registration + " " + spaced(f.Hold.Verdict), Location: way(f),
	}
	var said []string
	if f.Purpose != "" {
		said = append(said, f.Purpose)
	}
	switch {
	case f.State == techlog.Cancelled:
		e.Status, e.Busy, e.Summary = calendar.Cancelled, false, registration+" called off"
		e.Description = paragraphs(append(said, "The flight was called off."), a.Caution)
		return e
	case f.Hold.Holds():
		e.Status = calendar.Tentative
	}
	if len(f.Hold.Blocks) > 0 {
		e.Summary += ", blocked"
		said = append(said, "The aircraft is blocked at this time: the flight is held, whatever its verdict.")
	} else {
		said = append(said, casefile.Opening(f.Hold.Verdict))
	}
	said = append(said, h.legsInWords(f)...)
	for _, row := range f.Hold.Rows {
		said = append(said, h.rowInWords(row))
	}
	said = append(said, "As of "+f.Hold.At.UTC().Format(time.RFC3339)+".")
	e.Description = paragraphs(said, a.Caution)
	return e
}

// legsInWords says of each leg of a flight of several what holds it: what is written is when it departs, from where and where to.
func (h *handlers) legsInWords(f *techlog.Flight) []string {
	if len(f.Legs) < 2 || len(f.Legs) != len(f.Hold.Legs) {
		return nil
	}
	var said []string
	for i := range f.Legs {
		leg, hold := &f.Legs[i], f.Hold.Legs[i]
		line := leg.Departs.UTC().Format("2006-01-02 15:04 UTC") + ", " + spotName(&leg.From) + " – " + spotName(&leg.To) + ": " + spaced(hold.Verdict)
		if len(hold.Rows) > 0 {
			line += " (" + strings.Join(h.cited(hold.Rows), "; ") + ")"
		}
		said = append(said, line)
	}
	return said
}

// rowInWords is a row of a hold as people read it.
func (h *handlers) rowInWords(row string) string {
	i := slices.IndexFunc(h.rules, func(r server.Rule) bool { return r.Id == row })
	if i < 0 {
		return h.citation(row)
	}
	return h.rules[i].Citation + ": " + h.rules[i].Words
}

// way is where a flight leads: "Home Field – Strip – Home Field".
func way(f *techlog.Flight) string {
	var names []string
	for i := range f.Legs {
		if i == 0 {
			names = append(names, spotName(&f.Legs[i].From))
		}
		names = append(names, spotName(&f.Legs[i].To))
	}
	if len(names) == 2 && names[0] == names[1] {
		return names[0]
	}
	return strings.Join(names, " – ")
}

func spotName(s *techlog.Spot) string {
	if s.Name != "" {
		return s.Name
	}
	return s.Ident
}

func spaced(word string) string { return strings.ReplaceAll(word, "-", " ") }

// paragraphs puts every sentence on a line of its own, each once, and the caution below.
func paragraphs(said []string, caution string) string {
	var lines []string
	for _, s := range said {
		if !slices.Contains(lines, s) {
			lines = append(lines, s)
		}
	}
	return strings.Join(lines, "\n") + "\n\n" + caution
}

// ics is a calendar on its way out. Without a body it is one that whoever asks has already.
type ics struct {
	name string // of the file, without its ending
	tag  string // empty: it has none
	body []byte
}

func (i *ics) write(w http.ResponseWriter) error {
	h := w.Header()
	if i.tag != "" {
		h["Etag"] = []string{i.tag}
		h["Cache-Control"] = askAgain
	}
	if i.body == nil {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	h.Set("Content-Type", icsMedia+"; charset=utf-8")
	h.Set("Content-Length", strconv.Itoa(len(i.body)))
	h.Set("Content-Disposition", `attachment; filename="`+i.name+icsFile+`"`)
	w.WriteHeader(http.StatusOK)
	_, err := w.Write(i.body)
	return err
}

// VisitDownloadCalendarResponse implements server.DownloadCalendarResponseObject.
func (i *ics) VisitDownloadCalendarResponse(w http.ResponseWriter) error { return i.write(w) }

// VisitDownloadFreeBusyResponse implements server.DownloadFreeBusyResponseObject.
func (i *ics) VisitDownloadFreeBusyResponse(w http.ResponseWriter) error { return i.write(w) }

// VisitShowFreeBusyResponse implements server.ShowFreeBusyResponseObject.
func (i *ics) VisitShowFreeBusyResponse(w http.ResponseWriter) error { return i.write(w) }

// varyingBusy is an answer whose form depends on Accept.
type varyingBusy struct {
	server.ShowFreeBusyResponseObject
}

// VisitShowFreeBusyResponse implements server.ShowFreeBusyResponseObject.
func (v varyingBusy) VisitShowFreeBusyResponse(w http.ResponseWriter) error {
	w.Header().Set("Vary", "Accept")
	return v.ShowFreeBusyResponseObject.VisitShowFreeBusyResponse(w)
}
