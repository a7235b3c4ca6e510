package httpapi

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"

	"tiedown/api/server"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// ListBlocks implements server.StrictServerInterface.
func (h *handlers) ListBlocks(ctx context.Context, r server.ListBlocksRequestObject) (server.ListBlocksResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	blocks, err := h.service.Blocks(ctx, c.who, hangar.BlockFilter{
		Aircraft: techlog.ID(r.Aircraft), EndsAfter: given(r.Params.EndsAfter), BeginsBefore: given(r.Params.BeginsBefore), Cancelled: given(r.Params.Cancelled),
	}, page)
	if err != nil {
		return nil, err
	}
	blocks, next := cutPage(blocks, w, c.url, func(b techlog.Block) string { return after(b.ID) })
	return server.ListBlocks200JSONResponse{
		Body: server.Blocks{Blocks: each(blocks, showBlock)}, Headers: server.ListBlocks200ResponseHeaders{Link: next},
	}, nil
}

// ShowBlock implements server.StrictServerInterface.
func (h *handlers) ShowBlock(ctx context.Context, r server.ShowBlockRequestObject) (server.ShowBlockResponseObject, error) {
	b, err := h.service.Block(ctx, callOf(ctx).who, techlog.ID(r.Block))
	if err != nil {
		return nil, err
	}
	return server.ShowBlock200JSONResponse{Body: showBlock(b), Headers: server.ShowBlock200ResponseHeaders{ETag: new(etag(b.Version))}}, nil
}

// BlockAircraft implements server.StrictServerInterface.
func (h *handlers) BlockAircraft(ctx context.Context, r server.BlockAircraftRequestObject) (server.BlockAircraftResponseObject, error) {
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.BlockAircraft(ctx, c.who, techlog.ID(r.Aircraft), blockPlan(r.Body), c.once,
		render(&made, http.StatusCreated, func(b hangar.BlockedAircraft) shown {
			return shown{b.Block.Version, "/v1/blocks/" + b.Block.ID.String(), showBlocked(b)}
		}))
	return replay(frame, made, err)
}

// ChangeBlock implements server.StrictServerInterface.
func (h *handlers) ChangeBlock(ctx context.Context, r server.ChangeBlockRequestObject) (server.ChangeBlockResponseObject, error) {
	version, err := versionOf(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.ChangeBlock(ctx, c.who, techlog.ID(r.Block), version, blockPlan(r.Body), c.once, render(&made, http.StatusOK, alteredBlock))
	return replay(frame, made, err)
}

// CancelBlock implements server.StrictServerInterface.
func (h *handlers) CancelBlock(ctx context.Context, r server.CancelBlockRequestObject) (server.CancelBlockResponseObject, error) {
	version, err := versionOf(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.CancelBlock(ctx, c.who, techlog.ID(r.Block), version, c.once, render(&made, http.StatusOK, alteredBlock))
	return replay(frame, made, err)
}

func blockPlan(b *server.BlockEntry) hangar.BlockPlan {
	p := hangar.BlockPlan{From: stored(b.From), Kind: techlog.BlockKind(b.Kind), Words: b.Words}
	if b.Until != nil {
		p.Until = stored(*b.Until)
	}
	return p
}

func alteredBlock(b hangar.BlockedAircraft) shown {
	return shown{version: b.Block.Version, body: showBlocked(b)}
}

func showBlocked(b hangar.BlockedAircraft) server.BlockedAircraft {
	return server.BlockedAircraft{Block: showBlock(b.Block), Changes: each(b.Changes, showChange)}
}

func showBlock(b techlog.Block) server.Block {
	shown := server.Block{
		Id: server.ID(b.ID), Aircraft: server.ID(b.Aircraft), From: b.From, Kind: server.BlockKind(b.Kind), Words: b.Words, By: b.By, At: b.At,
		Cancelled: b.Cancelled, Version: b.Version,
	}
	if !b.Until.IsZero() {
		shown.Until = &b.Until
	}
	return shown
}

// ListShown implements server.StrictServerInterface.
func (h *handlers) ListShown(ctx context.Context, r server.ListShownRequestObject) (server.ListShownResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	all, err := h.service.Shown(ctx, c.who, techlog.ID(r.Flight), page)
	if err != nil {
		return nil, err
	}
	all, next := cutPage(all, w, c.url, func(k techlog.Shown) string { return after(k.ID) })
	list := server.ShownList{Shown: make([]server.Shown, len(all))}
	for i := range all {
		if list.Shown[i], err = h.showShown(all[i]); err != nil {
			return nil, err
		}
	}
	return server.ListShown200JSONResponse{Body: list, Headers: server.ListShown200ResponseHeaders{Link: next}}, nil
}

// RecordShown implements server.StrictServerInterface.
func (h *handlers) RecordShown(ctx context.Context, r server.RecordShownRequestObject) (server.RecordShownResponseObject, error) {
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.ShowTo(ctx, c.who, techlog.ID(r.Flight), techlog.ID(given(r.Body.Person)), c.once, func(k techlog.Shown) ([]byte, error) {
		body, err := h.showShown(k)
		if err != nil {
			return nil, err
		}
		made, err = shown{body: body}.frame(http.StatusCreated)
		return made, err
	})
	return replay(frame, made, err)
}

// showShown reads what was kept, letter by letter.
func (h *handlers) showShown(k techlog.Shown) (server.Shown, error) {
	var was hangar.ShownFlight
	if err := json.Unmarshal([]byte(k.Shown), &was); err != nil {
		return server.Shown{}, fmt.Errorf("what was shown cannot be read: %w", err)
	}
	return server.Shown{
		Id: server.ID(k.ID), Flight: server.ID(k.Flight), Person: server.ID(k.Person), Name: k.Name, At: k.At, By: k.By, Verdict: server.Verdict(k.Verdict),
		Holds: was.Holds, FlightVersion: was.Version, Rules: was.Rules, Blocks: each(was.Blocks, func(id techlog.ID) server.ID { return server.ID(id) }),
		Legs: each(was.Legs, func(l hangar.ShownLeg) server.ShownLeg {
			return server.ShownLeg{
				Departs: l.Departs, Arrives: l.Arrives, Verdict: server.Verdict(l.Verdict), Rows: each(l.Rows, h.showRow), Limitations: l.Limitations, Summary: l.Summary,
			}
		}),
	}, nil
}
