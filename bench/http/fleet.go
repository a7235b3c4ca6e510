package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/demo"
)

// fleet is what is on record: one aircraft entered as a person would, and as many copies of it as a scale wants.
type fleet struct {
	conn         *pgx.Conn
	ours         *server
	organization string
	first        string // the aircraft that was entered
	ids          []string
	squawks      int
	flightsEach  int
	statusBytes  int
}

func newFleet(ctx context.Context, url string, ours *server, flightsEach int) (*fleet, error) {
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return nil, err
	}
	f := &fleet{conn: conn, ours: ours, flightsEach: flightsEach}
	if err := f.enter(ctx); err != nil {
		return nil, err
	}
	if _, err := conn.Exec(ctx, `SELECT set_config('tiedown.keeper', 'on', false)`); err != nil {
		return nil, err
	}
	if err := conn.QueryRow(ctx, `SELECT id::text FROM organization`).Scan(&f.organization); err != nil {
		return nil, fmt.Errorf("find the organization: %w", err)
	}
	_, err = conn.Exec(ctx, `SELECT set_config('tiedown.organization', $1, false)`, f.organization)
	return f, err
}

func (f *fleet) close() { _ = f.conn.Close(context.Background()) } //nolint:errcheck // the measurement is over

// enter adds a base, an aircraft and its flights through the interface.
func (f *fleet) enter(ctx context.Context) error {
	var base struct {
		ID string `json:"id"`
	}
	if err := f.post(ctx, "/v1/bases", map[string]any{
		"code": "HOME", "name": "Home", "lat": 41.2, "lon": -95.5, "zone": "America/Chicago",
	}, &base); err != nil {
		return err
	}
	written, err := demo.Aircraft("trainer")
	if err != nil {
		return err
	}
	demo.Inspect(&written.Facts, time.Now())
	var aircraft struct {
		ID string `json:"id"`
	}
	if err := f.post(ctx, "/v1/aircraft", map[string]any{
		"registration": "N00000", "type": "Measured", "base": base.ID, "facts": written.Facts, "configuration": written.Configuration,
	}, &aircraft); err != nil {
		return err
	}
	f.first = aircraft.ID
	for i := range f.flightsEach {
		departs := time.Now().Add(time.Duration(24*(i+1)) * time.Hour).UTC().Truncate(time.Second)
		if err := f.post(ctx, "/v1/flights", map[string]any{
			"aircraft": aircraft.ID, "from": base.ID, "to": base.ID, "departs": departs, "arrives": departs.Add(90 * time.Minute),
			"rules": "vfr", "purpose": "Measured", "facts": map[string]any{
				"for_hire": false, "over_water": false, "occupants": 2, "persons": 2, "required_crew": 1, "altitude_ft": 3000, "airspace": []string{},
			},
		}, nil); err != nil {
			return err
		}
	}
	return nil
}

func (f *fleet) post(ctx context.Context, path string, body, answer any) error {
	raw, err := json.Marshal(body)
	if err != nil {
		return err
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://"+f.ours.Addr+path, bytes.NewReader(raw))
	if err != nil {
		return err
	}
	request.Header.Set("Authorization", "Bearer "+f.ours.token)
	request.Header.Set("Content-Type", "application/json")
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return err
	}
	defer response.Body.Close() //nolint:errcheck // read to the end
	got, err := io.ReadAll(response.Body)
	if err != nil {
		return err
	}
	if response.StatusCode != http.StatusCreated {
		return fmt.Errorf("POST %s: %s: %s", path, response.Status, got)
	}
	if answer == nil {
		return nil
	}
	return json.Unmarshal(got, answer)
}

// grow copies the first aircraft and its flights, and puts closed squawks on record.
func (f *fleet) grow(ctx context.Context, s scale) error {
	if err := f.clear(ctx); err != nil {
		return err
	}
	var have int
	if err := f.conn.QueryRow(ctx, `SELECT count(*) FROM aircraft`).Scan(&have); err != nil {
		return err
	}
	tx, err := f.conn.Begin(ctx)
	if err != nil {
		return err
	}
	defer tx.Rollback(context.Background()) //nolint:errcheck // after the commit there is nothing to roll back
	for _, statement := range []struct {
		sql  string
		args []any
	}{
		{`CREATE TEMP TABLE IF NOT EXISTS grown (id uuid, n int)`, nil},
		{`TRUNCATE grown`, nil},
		{`INSERT INTO grown SELECT gen_random_uuid(), n FROM generate_series($1::int, $2::int) n`, []any{have, s.aircraft - 1}},
		{`INSERT INTO aircraft (organization, id, registration, type, base, facts, revision, version, plan_version, state_version, squawked)
			SELECT a.organization, g.id, 'N0' || lpad(g.n::text, 6, '0'), a.type, a.base, a.facts, 1, 1, 1, 1, 0
			FROM grown g, aircraft a WHERE a.id = $1::uuid`, []any{f.first}},
		{`INSERT INTO aircraft_configuration (organization, aircraft, revision, at, by, document)
			SELECT c.organization, g.id, 1, c.at, c.by, c.document FROM grown g, aircraft_configuration c WHERE c.aircraft = $1::uuid`, []any{f.first}},
		{`INSERT INTO flight (organization, id, aircraft, from_base, to_base, departs, arrives, rules, facts, purpose, state, planned_by,
				light_day, light_night, light_sunset_to_sunrise, in_alaska, zone, hold_verdict, hold_rows, hold_rules, hold_at, version)
			SELECT f.organization, gen_random_uuid(), g.id, f.from_base, f.to_base, f.departs, f.arrives, f.rules, f.facts, f.purpose,
				f.state, f.planned_by, f.light_day, f.light_night, f.light_sunset_to_sunrise, f.in_alaska, f.zone, f.hold_verdict,
				f.hold_rows, f.hold_rules, f.hold_at, 1
			FROM grown g, flight f WHERE f.aircraft = $1::uuid`, []any{f.first}},
		{`CREATE TEMP TABLE IF NOT EXISTS seeded (id uuid, aircraft uuid, number int)`, nil},
		{`TRUNCATE seeded`, nil},
		{`INSERT INTO seeded
			SELECT gen_random_uuid(), a.id, a.squawked + n
			FROM aircraft a, generate_series(1, greatest(0, $1::int) / (SELECT count(*) FROM aircraft)) n`, []any{s.squawks - f.squawks}},
		{`INSERT INTO squawk (organization, id, aircraft, number, kind, unit, item, words, state, reported_by, reported_at, version)
			SELECT $1::uuid, s.id, s.aircraft, s.number, 'condition', '', 'tire', 'Seeded squawk', 'closed', 'seed', now(), 1 FROM seeded s`, []any{f.organization}},
		{`INSERT INTO squawk_history (organization, squawk, number, at, by, step, state, words)
			SELECT $1::uuid, s.id, 1, now(), 'seed', 'report', 'closed', 'Seeded squawk' FROM seeded s`, []any{f.organization}},
		{`UPDATE aircraft a SET squawked = greatest(squawked, (SELECT max(number) FROM squawk s WHERE s.organization = a.organization AND s.aircraft = a.id))
			WHERE EXISTS (SELECT 1 FROM seeded WHERE aircraft = a.id)`, nil},
		{`TRUNCATE bare_status`, nil},
	} {
		if _, err := tx.Exec(ctx, statement.sql, statement.args...); err != nil {
			return fmt.Errorf("%s: %w", statement.sql, err)
		}
	}
	if err := tx.Commit(ctx); err != nil {
		return err
	}
	f.squawks = max(f.squawks, s.squawks)
	return f.settle(ctx)
}

// settle reads the identifiers back, fills the bare table with as many rows and bytes, and lets PostgreSQL take stock.
func (f *fleet) settle(ctx context.Context) error {
	rows, err := f.conn.Query(ctx, `SELECT id::text FROM aircraft`)
	if err != nil {
		return err
	}
	if f.ids, err = pgx.CollectRows(rows, pgx.RowTo[string]); err != nil {
		return err
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+f.ours.Addr+"/v1/aircraft/"+f.first+"/status", nil)
	if err != nil {
		return err
	}
	request.Header.Set("Authorization", "Bearer "+f.ours.token)
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return err
	}
	defer response.Body.Close() //nolint:errcheck // read to the end
	body, err := io.ReadAll(response.Body)
	if err != nil {
		return err
	}
	f.statusBytes = len(body)
	if _, err := f.conn.Exec(ctx, `INSERT INTO bare_status SELECT id, $1::text FROM aircraft`, string(body)); err != nil {
		return err
	}
	for _, table := range []string{"aircraft", "flight", "squawk", "squawk_history", "bare_status"} {
		if _, err := f.conn.Exec(ctx, "VACUUM ANALYZE "+table); err != nil {
			return err
		}
	}
	return nil
}

// clear closes the squawks that a measurement has left open, so that every measurement meets the same records.
func (f *fleet) clear(ctx context.Context) error {
	batch := &pgx.Batch{}
	for _, statement := range []string{
		`UPDATE aircraft SET state_version = state_version + 1 WHERE id IN (SELECT aircraft FROM squawk WHERE state = 'reported')`,
		`INSERT INTO squawk_history (organization, squawk, number, at, by, step, state, words)
			SELECT organization, id, version + 1, now(), 'seed', 'close', 'closed', 'Cleared' FROM squawk WHERE state = 'reported'`,
		`UPDATE squawk SET state = 'closed', version = version + 1 WHERE state = 'reported'`,
	} {
		batch.Queue(statement)
	}
	return f.conn.SendBatch(ctx, batch).Close()
}

func (f *fleet) pick(r *rand.Rand) string { return f.ids[r.IntN(len(f.ids))] }

func (f *fleet) read(r *rand.Rand) []byte {
	return []byte("GET /v1/aircraft/" + f.pick(r) + "/status HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer " + f.ours.token + "\r\n\r\n")
}

func (f *fleet) bareRead(r *rand.Rand) []byte {
	return []byte("GET /status/" + f.pick(r) + " HTTP/1.1\r\nHost: x\r\n\r\n")
}

const report = `{"kind":"inoperative","unit":"taxi-light","words":"Taxi light dark on the evening walkaround."}`

func (f *fleet) write(r *rand.Rand) []byte {
	return post("/v1/aircraft/"+f.pick(r)+"/squawks", "Authorization: Bearer "+f.ours.token+"\r\n")
}

func (f *fleet) bareWrite(r *rand.Rand) []byte { return post("/aircraft/"+f.pick(r)+"/squawks", "") }

func post(path, headers string) []byte {
	return fmt.Appendf(nil, "POST %s HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n%sContent-Length: %d\r\n\r\n%s",
		path, headers, len(report), report)
}

// writesBetweenClearings keeps few squawks open on each aircraft of a small fleet, as in life.
const writesBetweenClearings = 500

// writeInBatches inserts into the bare table and files squawks in turn, clearing between batches; the clearing is not
// measured.
func (f *fleet) writeInBatches(ctx context.Context, p plan, ours, bare *server, writes, bareWrites *[]result) error {
	for done := 0; done < p.writes; done += writesBetweenClearings {
		r, err := load{server: bare, clients: p.clients, count: writesBetweenClearings, request: f.bareWrite}.run(ctx)
		if err != nil {
			return err
		}
		*bareWrites = append(*bareWrites, r)
		if r, err = (load{server: ours, clients: p.clients, count: writesBetweenClearings, request: f.write}).run(ctx); err != nil {
			return err
		}
		*writes = append(*writes, r)
		if err := f.clear(ctx); err != nil {
			return err
		}
	}
	return nil
}
