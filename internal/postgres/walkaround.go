package postgres

import (
	"context"
	"encoding/hex"
	"encoding/json"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

const (
	selectWalkaroundsWhere = `
		SELECT id, aircraft, flight, checklist, place, moisture, state, started_by, started_at, completed_by, completed_at, left_open, version
		FROM walkaround WHERE organization = $1`
	selectWalkaround = selectWalkaroundsWhere + ` AND id = $2`
	// Two phones that report on one walkaround wait for each other here.
	lockWalkaround = selectWalkaround + ` FOR NO KEY UPDATE`

	selectReports = `
		SELECT walkaround, number, at, by, late, results FROM walkaround_report
		WHERE organization = $1 AND walkaround = $2 ORDER BY number`
	selectFiled = `
		SELECT walkaround, result, squawk, at, by FROM walkaround_squawk
		WHERE organization = $1 AND walkaround = $2 ORDER BY result`
	selectFlightToWalk = selectFlightsWhere + ` AND id = (SELECT flight FROM walkaround WHERE organization = $1 AND id = $2)`

	// How many photos a walkaround has, and what the plan of its aircraft is known by.
	selectAround = `
		SELECT (` + countPhotosOfWalkaround + `), plan_version FROM aircraft
		WHERE organization = $1 AND id = (SELECT aircraft FROM walkaround WHERE organization = $1 AND id = $2)`

	// The last entry of each meter, by its key.
	selectBookOf = `
		SELECT e.aircraft, e.meter, e.number, e.hours, e.at, e.by, e.walkaround, e.flight, e.because
		FROM unnest(ARRAY['hobbs', 'tach', 'time-in-service']) WITH ORDINALITY AS m (meter, place)
		CROSS JOIN LATERAL (
			SELECT b.aircraft, b.meter, b.number, b.hours, b.at, b.by, b.walkaround, b.flight, b.because FROM meter_entry b
			WHERE b.organization = $1 AND b.aircraft = `
	lastEntry     = ` AND b.meter = m.meter ORDER BY b.number DESC LIMIT 1) AS e ORDER BY m.place`
	selectBook    = selectBookOf + `$2` + lastEntry
	selectBookFor = selectBookOf + `(SELECT aircraft FROM walkaround WHERE organization = $1 AND id = $2)` + lastEntry

	selectEntriesOf = `
		SELECT aircraft, meter, number, hours, at, by, walkaround, flight, because FROM meter_entry
		WHERE organization = $1 AND aircraft = $2 AND meter = `
	selectEntriesBack = selectEntriesOf + `$3 AND ($4 = 0 OR number < $4) ORDER BY number DESC LIMIT $5`
	selectServiceBook = selectEntriesOf + `'time-in-service' AND number IN (1, (SELECT max(number) FROM meter_entry
			WHERE organization = $1 AND aircraft = $2 AND meter = 'time-in-service'))
		ORDER BY number`

	insertWalkaround = `
		INSERT INTO walkaround (organization, id, aircraft, flight, checklist, place, moisture, state, started_by, started_at,
			completed_by, completed_at, left_open, version)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)`
	// What was said at the start never changes: the record has it as it stands.
	updateWalkaround = `
		WITH changed AS (
			UPDATE walkaround SET state = $8, completed_by = $11, completed_at = $12, left_open = $13, version = $14
			WHERE organization = $1 AND id = $2 AND version = $14 - 1
				AND (aircraft, flight, checklist, place, moisture, started_by, started_at) IS NOT DISTINCT FROM
					($3::uuid, $4::uuid, $5::text, $6::text, $7::boolean, $9::text, $10::timestamptz)
			RETURNING 1)
		SELECT expect(count(*), 1, '` + changedMeanwhile + `') FROM changed`
	insertReport = `
		INSERT INTO walkaround_report (organization, walkaround, number, at, by, late, ids, results,
			measured_ids, measured, measured_at, measured_values)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`
	insertFiled = `
		INSERT INTO walkaround_squawk (organization, walkaround, result, squawk, at, by) VALUES ($1, $2, $3, $4, $5, $6)`
	insertBookEntry = `
		INSERT INTO meter_entry (organization, aircraft, meter, number, hours, at, by, walkaround, flight, because)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`
)

// resultRow is a result as a report holds it. When it arrived, and from whom, the report says. An answer that is its outcome
// and no more is left out. The names are in the order in which the log writes them. Identifier and instant are texts, as what
// writes itself is gone over twice, and a report has as many of them as checks.
type resultRow struct {
	Check   string             `json:"check"`
	Class   walkaround.Class   `json:"class,omitempty"`
	ID      string             `json:"id"`
	MadeAt  string             `json:"made_at"`
	Outcome walkaround.Outcome `json:"outcome"`
	Said    *walkaround.Answer `json:"said,omitempty"`
	Shows   string             `json:"shows,omitempty"`
}

// Walkarounds lists walkarounds, newest first.
func (s *Store) Walkarounds(ctx context.Context, org techlog.ID, filter hangar.WalkaroundFilter, page hangar.Page) ([]walkaround.Walkaround, error) {
	f := filtered(selectWalkaroundsWhere, uuid(org))
	if !filter.Aircraft.IsZero() {
		f.and(`aircraft = `, uuid(filter.Aircraft))
	}
	if !filter.Flight.IsZero() {
		f.and(`flight = `, uuid(filter.Flight))
	}
	if filter.State != "" {
		f.and(`state = `, string(filter.State))
	}
	if !page.After.IsZero() {
		f.and(`id < `, uuid(page.After))
	}
	return list(ctx, s, organization(org), f.first(page.Limit, `id DESC`), scanWalkaround)
}

// Walkaround reads a walkaround with all that has been reported on it, as of one instant. Kind not-found if there is none.
func (s *Store) Walkaround(ctx context.Context, org, id techlog.ID) (hangar.WalkaroundRecord, error) {
	record, err := asOfOneInstant(ctx, s, org, func(batch *pgx.Batch) { queueRecord(batch, selectWalkaround, org, id) }, readRecord)
	return record, absent(err, "walkaround")
}

// MeterBook reads the last entry of every meter of an aircraft.
func (s *Store) MeterBook(ctx context.Context, org, aircraft techlog.ID) ([]walkaround.BookEntry, error) {
	return list(ctx, s, organization(org), ask(selectBook, uuid(org), uuid(aircraft)), scanBookEntry)
}

// MeterEntries lists the entries of one meter of an aircraft, newest first.
func (s *Store) MeterEntries(ctx context.Context, org, aircraft techlog.ID, meter walkaround.Meter, page hangar.Page) ([]walkaround.BookEntry, error) {
	return list(ctx, s, organization(org), ask(selectEntriesBack, uuid(org), uuid(aircraft), string(meter), page.AfterRevision, page.Limit), scanBookEntry)
}

// queueRecord asks for what readRecord reads. The walkaround's row comes first, so that with a lock on it the rest is read
// after whoever had it has committed.
func queueRecord(batch *pgx.Batch, row string, org, id techlog.ID) {
	for _, sql := range []string{row, selectReports, selectFiled, selectFlightToWalk, selectBookFor, selectAround} {
		batch.Queue(sql, uuid(org), uuid(id))
	}
}

// readRecord reads the results of queueRecord. It returns pgx.ErrNoRows when there is no such walkaround.
func readRecord(results pgx.BatchResults) (hangar.WalkaroundRecord, error) {
	var r hangar.WalkaroundRecord
	var err error
	if r.Walkaround, err = scanWalkaround(results.QueryRow()); err != nil {
		return r, err
	}
	if r.Reports, err = collect(results, scanReport); err != nil {
		return r, err
	}
	if r.Filed, err = collect(results, scanFiled); err != nil {
		return r, err
	}
	flights, err := collect(results, scanFlight)
	if err != nil {
		return r, err
	}
	if len(flights) > 0 {
		r.Flight = &flights[0]
	}
	if r.Book, err = collect(results, scanBookEntry); err != nil {
		return r, err
	}
	err = results.QueryRow().Scan(&r.Photos, &r.Plan)
	return r, err
}

func scanWalkaround(row pgx.Row) (walkaround.Walkaround, error) {
	var w walkaround.Walkaround
	var flight *[16]byte
	var digest string
	var completed *time.Time
	err := row.Scan(into(&w.ID), into(&w.Aircraft), &flight, &digest, &w.Place, &w.Moisture, &w.State, &w.StartedBy, &w.StartedAt,
		&w.CompletedBy, &completed, &w.LeftOpen, &w.Version)
	if flight != nil {
		w.Flight = *flight
	}
	if completed != nil {
		w.CompletedAt = *completed
	}
	if len(w.LeftOpen) == 0 {
		w.LeftOpen = nil
	}
	if err != nil {
		return w, err
	}
	_, err = hex.Decode(w.Checklist[:], []byte(digest))
	return w, err
}

func scanReport(row pgx.Row) (walkaround.Report, error) {
	var r walkaround.Report
	var written string
	if err := row.Scan(into(&r.Walkaround), &r.Number, &r.At, &r.By, &r.Late, &written); err != nil {
		return r, err
	}
	var rows []resultRow
	if err := json.Unmarshal([]byte(written), &rows); err != nil {
		return r, err
	}
	r.Results = make([]walkaround.Result, len(rows))
	for i := range rows {
		if err := rows[i].read(&r.Results[i]); err != nil {
			return r, err
		}
		r.Results[i].At, r.Results[i].By, r.Results[i].Late = r.At, r.By, r.Late
	}
	return r, nil
}

// rowOf is how a report holds a result.
func rowOf(r *walkaround.Result) resultRow {
	row := resultRow{
		Check: r.Check, Class: r.Class, ID: r.ID.String(), MadeAt: instant(r.MadeAt).Format(time.RFC3339Nano), Outcome: r.Outcome, Shows: r.Shows,
	}
	if !r.Said.Is(r.Outcome) {
		row.Said = &r.Said
	}
	return row
}

// read is rowOf, the other way round.
func (row *resultRow) read(r *walkaround.Result) error {
	r.Check, r.Outcome, r.Class, r.Shows, r.Said = row.Check, row.Outcome, row.Class, row.Shows, walkaround.Answer{Outcome: row.Outcome}
	if row.Said != nil {
		r.Said = *row.Said
	}
	err := r.ID.UnmarshalText([]byte(row.ID))
	if err == nil {
		r.MadeAt, err = time.Parse(time.RFC3339Nano, row.MadeAt)
	}
	return err
}

func scanFiled(row pgx.Row) (walkaround.Filed, error) {
	var f walkaround.Filed
	err := row.Scan(into(&f.Walkaround), into(&f.Result), into(&f.Squawk), &f.At, &f.By)
	return f, err
}

func scanBookEntry(row pgx.Row) (walkaround.BookEntry, error) {
	var e walkaround.BookEntry
	var walked, flown *[16]byte
	err := row.Scan(into(&e.Aircraft), &e.Meter, &e.Number, &e.Hours, &e.At, &e.By, &walked, &flown, &e.Because)
	if walked != nil {
		e.Walkaround = *walked
	}
	if flown != nil {
		e.Flight = *flown
	}
	return e, err
}

// Walkaround locks the walkaround and reads it, in one round trip, unless the change began with that.
func (c *change) Walkaround(ctx context.Context, id techlog.ID) (hangar.WalkaroundRecord, error) {
	if id == c.scope.Walkaround {
		return c.walked, nil
	}
	var batch pgx.Batch
	queueRecord(&batch, lockWalkaround, c.scope.Organization, id)
	results := c.conn.SendBatch(ctx, &batch)
	record, err := readRecord(results)
	return record, absent(finish(results, err), "walkaround")
}

func (c *change) MeterBook(ctx context.Context, aircraft techlog.ID) ([]walkaround.BookEntry, error) {
	rows, err := c.conn.Query(ctx, selectBook, c.org, uuid(aircraft))
	if err != nil {
		return nil, translate(err)
	}
	book, err := collectRows(rows, scanBookEntry)
	return book, translate(err)
}

// inService reads the first and the last entry of an aircraft's time in service.
func (c *change) inService(ctx context.Context, aircraft techlog.ID) ([]walkaround.BookEntry, error) {
	rows, err := c.conn.Query(ctx, selectServiceBook, c.org, uuid(aircraft))
	if err != nil {
		return nil, translate(err)
	}
	book, err := collectRows(rows, scanBookEntry)
	return book, translate(err)
}

func (c *change) AddWalkaround(w walkaround.Walkaround, composed walkaround.Composed) {
	c.write(checklists, insertChecklist, c.org, hexed(w.Checklist), c.document(composed))
	c.write(walkarounds, insertWalkaround, c.walkaroundRow(w)...)
}

func (c *change) UpdateWalkaround(w walkaround.Walkaround) {
	c.write(walkarounds, updateWalkaround, c.walkaroundRow(w)...)
}

func (c *change) walkaroundRow(w walkaround.Walkaround) []any {
	var completed *time.Time
	if !w.CompletedAt.IsZero() {
		completed = new(instant(w.CompletedAt))
	}
	return []any{
		c.org, uuid(w.ID), uuid(w.Aircraft), uuidOrNull(w.Flight), hexed(w.Checklist), w.Place, w.Moisture, string(w.State), w.StartedBy,
		instant(w.StartedAt), w.CompletedBy, completed, filled(w.LeftOpen), w.Version,
	}
}

func (c *change) AddReport(r walkaround.Report) {
	rows, ids := make([]resultRow, len(r.Results)), make([][16]byte, len(r.Results))
	var m measurements
	for i := range r.Results {
		result := &r.Results[i]
		rows[i], ids[i] = rowOf(result), uuid(result.ID)
		m.add(result)
	}
	c.write(reports, insertReport, c.org, uuid(r.Walkaround), r.Number, instant(r.At), r.By, r.Late, ids, c.document(rows),
		filled(m.ids), filled(m.checks), filled(m.madeAt), filled(m.values))
}

// measurements are the results that have a value, as one array a column.
type measurements struct {
	ids    [][16]byte
	checks []string
	madeAt []time.Time
	values []float64
}

func (m *measurements) add(r *walkaround.Result) {
	if r.Said.Value == nil {
		return
	}
	m.ids, m.checks = append(m.ids, uuid(r.ID)), append(m.checks, r.Check)
	m.madeAt, m.values = append(m.madeAt, instant(r.MadeAt)), append(m.values, *r.Said.Value)
}

// document writes a document once, for the row and for the log.
func (c *change) document(v any) string {
	raw, err := json.Marshal(v)
	if err != nil {
		c.fail(err)
	}
	return string(raw)
}

func (c *change) AddFiled(f walkaround.Filed) {
	c.write(filings, insertFiled, c.org, uuid(f.Walkaround), uuid(f.Result), uuid(f.Squawk), instant(f.At), f.By)
}

func (c *change) AddBookEntry(e walkaround.BookEntry) {
	c.write(meterEntries, insertBookEntry, c.org, uuid(e.Aircraft), string(e.Meter), e.Number, e.Hours, instant(e.At), e.By,
		uuidOrNull(e.Walkaround), uuidOrNull(e.Flight), e.Because)
	if e.Meter == walkaround.TimeInService {
		c.counts(e.Aircraft).replanned++ // what is due by hours is judged from the newest entry
	}
}
