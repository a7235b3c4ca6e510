package storetest

import (
	"context"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// testAirports: a list adds and replaces, and no other organization has any of it.
func testAirports(t *testing.T, c *club) {
	sedge := casefile.Airport{Ident: "N0-7", Name: "Sedge Strip", Lat: 40.4, Lon: -75.2}
	whin, far := casefile.Airport{Ident: "N0WH", Name: "Whin Hill – 灯", Lat: 40.9, Lon: -75}, casefile.Airport{Ident: "N0-71", Name: "Far Landing", Lat: -12.5, Lon: 179.99}
	c.must(t, func(tx hangar.Tx) { tx.PutAirports([]casefile.Airport{whin, sedge, far}) })
	list := func(f hangar.AirportFilter, limit int) []casefile.Airport {
		return get[[]casefile.Airport](t)(c.store.Airports(t.Context(), c.org, f, limit))
	}
	same(t, "all", list(hangar.AirportFilter{}, 9), []casefile.Airport{sedge, far, whin})
	same(t, "the first", list(hangar.AirportFilter{}, 1), []casefile.Airport{sedge})
	same(t, "after it", list(hangar.AirportFilter{After: "N0-7"}, 9), []casefile.Airport{far, whin})
	same(t, "by prefix", list(hangar.AirportFilter{Prefix: "N0-"}, 9), []casefile.Airport{sedge, far})
	same(t, "with a sign of LIKE", list(hangar.AirportFilter{Prefix: "N0%"}, 9), []casefile.Airport{})
	near := &techlog.Spot{Lat: 40.8, Lon: -75} // 6 NM from Whin Hill, some 26 from Sedge Strip
	same(t, "around", list(hangar.AirportFilter{Near: near, WithinNM: 50}, 9), []casefile.Airport{whin, sedge})
	same(t, "close by", list(hangar.AirportFilter{Near: near, WithinNM: 20}, 9), []casefile.Airport{whin})
	same(t, "over the date line", list(hangar.AirportFilter{Near: &techlog.Spot{Lat: -12.5, Lon: -179.99}, WithinNM: 2}, 9), []casefile.Airport{far})

	sedge.Name, sedge.Lat = "Sedge Field", 40.41
	c.must(t, func(tx hangar.Tx) { tx.PutAirports([]casefile.Airport{sedge}) })
	same(t, "as replaced", get[casefile.Airport](t)(c.store.Airport(t.Context(), c.org, "N0-7")), sedge)
	err := c.within(t.Context(), func(ctx context.Context, tx hangar.Tx) error {
		same(t, "within a change", get[casefile.Airport](t)(tx.Airport(ctx, "N0WH")), whin)
		return nil
	})
	if err != nil {
		t.Error(err)
	}
	_, err = c.store.Airport(t.Context(), c.org, "n0-7")
	wantKind(t, "another case", err, techlog.KindNotFound)
	other := c.neighbor(t)
	_, err = c.store.Airport(t.Context(), other.org, "N0-7")
	wantKind(t, "another organization's", err, techlog.KindNotFound)
	sedge.Lat = 91
	wantFault(t, "out of range", c.change(t, func(tx hangar.Tx) { tx.PutAirports([]casefile.Airport{sedge}) }), "latitude_deg")
}
