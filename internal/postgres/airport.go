package postgres

import (
	"cmp"
	"context"
	"slices"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	selectAirportsWhere = `SELECT ident, name, lat, lon FROM airport WHERE organization = $1`
	selectAirport       = selectAirportsWhere + ` AND ident = $2`
	selectAirports      = selectAirportsWhere + ` AND ident > $2 AND starts_with(ident, $3) ORDER BY ident LIMIT $4`

	// Nautical miles on a sphere, 60 to the degree. The belt of latitude has an index.
	selectAirportsNear = `
		SELECT ident, name, lat, lon FROM (
			SELECT ident, name, lat, lon, 120 * degrees(asin(least(1, sqrt(sin(radians(lat - $2) / 2) ^ 2
				+ cos(radians(lat)) * cos(radians($2)) * sin(radians(lon - $3) / 2) ^ 2)))) AS apart
			FROM airport WHERE organization = $1 AND lat BETWEEN $2::float8 - $4::float8 / 60 AND $2::float8 + $4::float8 / 60) near
		WHERE apart <= $4 ORDER BY apart, ident LIMIT $5`

	// In one order, so that two imports at once do not wait for each other. What stays as it is, is not written.
	putAirports = `
		INSERT INTO airport AS a (organization, ident, name, lat, lon)
		SELECT $1, ident, name, lat, lon FROM unnest($2::text[], $3::text[], $4::float8[], $5::float8[]) AS l (ident, name, lat, lon)
		ON CONFLICT (organization, ident) DO UPDATE SET name = excluded.name, lat = excluded.lat, lon = excluded.lon
			WHERE (a.name, a.lat, a.lon) IS DISTINCT FROM (excluded.name, excluded.lat, excluded.lon)`
)

// Airports implements hangar.Store.
func (s *Store) Airports(ctx context.Context, org techlog.ID, f hangar.AirportFilter, limit int) ([]casefile.Airport, error) {
	asked := ask(selectAirports, uuid(org), f.After, f.Prefix, limit)
	if f.Near != nil {
		asked = ask(selectAirportsNear, uuid(org), f.Near.Lat, f.Near.Lon, f.WithinNM, limit)
	}
	return list(ctx, s, organization(org), asked, scanAirport)
}

// Airport implements hangar.Store.
func (s *Store) Airport(ctx context.Context, org techlog.ID, ident string) (casefile.Airport, error) {
	a, err := one(ctx, s, organization(org), ask(selectAirport, uuid(org), ident), scanAirport)
	return a, absent(err, "airport")
}

func scanAirport(row pgx.Row) (casefile.Airport, error) {
	var a casefile.Airport
	err := row.Scan(&a.Ident, &a.Name, &a.Lat, &a.Lon)
	return a, err
}

// Airport implements hangar.Tx.
func (c *change) Airport(ctx context.Context, ident string) (casefile.Airport, error) {
	a, err := scanAirport(c.conn.QueryRow(ctx, selectAirport, c.org, ident))
	return a, absent(err, "airport")
}

// PutAirports implements hangar.Tx.
func (c *change) PutAirports(airports []casefile.Airport) {
	ordered := slices.Clone(airports)
	slices.SortFunc(ordered, func(a, b casefile.Airport) int { return cmp.Compare(a.Ident, b.Ident) })
	n := len(ordered)
	idents, names, lats, lons := make([]string, n), make([]string, n), make([]float64, n), make([]float64, n)
	for i, a := range ordered {
		idents[i], names[i], lats[i], lons[i] = a.Ident, a.Name, a.Lat, a.Lon
	}
	c.queue(putAirports, c.org, idents, names, lats, lons)
}
