package httpapi

import (
	"context"
	"net/http"

	"tiedown/api/server"
	"tiedown/internal/techlog"
)

// ListCertificates implements server.StrictServerInterface.
func (h *handlers) ListCertificates(ctx context.Context, r server.ListCertificatesRequestObject) (server.ListCertificatesResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	list, err := h.service.Certificates(ctx, c.who, techlog.ID(given(r.Params.Person)), page)
	if err != nil {
		return nil, err
	}
	list, next := cutPage(list, w, c.url, func(k techlog.Certificate) string { return after(k.ID) })
	return server.ListCertificates200JSONResponse{
		Body:    server.HeldCertificates{Certificates: each(list, showCertificate)},
		Headers: server.ListCertificates200ResponseHeaders{Link: next},
	}, nil
}

// AddCertificate implements server.StrictServerInterface.
func (h *handlers) AddCertificate(ctx context.Context, r server.AddCertificateRequestObject) (server.AddCertificateResponseObject, error) {
	return h.keepCertificate(ctx, certificateOf(*r.Body), http.StatusCreated)
}

// ChangeCertificate implements server.StrictServerInterface.
func (h *handlers) ChangeCertificate(ctx context.Context, r server.ChangeCertificateRequestObject) (server.ChangeCertificateResponseObject, error) {
	version, err := seenVersion(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c := certificateOf(*r.Body)
	c.ID, c.Version = techlog.ID(r.Certificate), version
	return h.keepCertificate(ctx, c, http.StatusOK)
}

// seenVersion is a version that something on record has had: none has version 0.
func seenVersion(ifMatch string) (int, error) {
	version, err := versionOf(ifMatch)
	if err == nil && version == 0 {
		err = techlog.Errorf(techlog.KindStale, "the record has no version 0")
	}
	return version, err
}

func (h *handlers) keepCertificate(ctx context.Context, k techlog.Certificate, status int) (*kept, error) {
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.KeepCertificate(ctx, c.who, k, c.once, render(&made, status, func(k techlog.Certificate) shown {
		return shown{version: k.Version, body: showCertificate(k)}
	}))
	return replay(frame, made, err)
}

// ShowCertificate implements server.StrictServerInterface.
func (h *handlers) ShowCertificate(ctx context.Context, r server.ShowCertificateRequestObject) (server.ShowCertificateResponseObject, error) {
	versions, err := h.service.Certificate(ctx, callOf(ctx).who, techlog.ID(r.Certificate))
	if err != nil {
		return nil, err
	}
	return server.ShowCertificate200JSONResponse{Certificates: each(versions, showCertificate)}, nil
}

// ListStandings implements server.StrictServerInterface.
func (h *handlers) ListStandings(ctx context.Context, r server.ListStandingsRequestObject) (server.ListStandingsResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	list, err := h.service.Standings(ctx, c.who, techlog.ID(given(r.Params.Person)), page)
	if err != nil {
		return nil, err
	}
	list, next := cutPage(list, w, c.url, func(s techlog.Standing) string { return after(s.ID) })
	return server.ListStandings200JSONResponse{
		Body:    server.Standings{Standings: each(list, showStanding)},
		Headers: server.ListStandings200ResponseHeaders{Link: next},
	}, nil
}

// AddStanding implements server.StrictServerInterface.
func (h *handlers) AddStanding(ctx context.Context, r server.AddStandingRequestObject) (server.AddStandingResponseObject, error) {
	return h.keepStanding(ctx, standingOf(*r.Body), http.StatusCreated)
}

// ChangeStanding implements server.StrictServerInterface.
func (h *handlers) ChangeStanding(ctx context.Context, r server.ChangeStandingRequestObject) (server.ChangeStandingResponseObject, error) {
	version, err := seenVersion(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	s := standingOf(*r.Body)
	s.ID, s.Version = techlog.ID(r.Standing), version
	return h.keepStanding(ctx, s, http.StatusOK)
}

func (h *handlers) keepStanding(ctx context.Context, s techlog.Standing, status int) (*kept, error) {
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.KeepStanding(ctx, c.who, s, c.once, render(&made, status, func(s techlog.Standing) shown {
		return shown{version: s.Version, body: showStanding(s)}
	}))
	return replay(frame, made, err)
}

// ShowStanding implements server.StrictServerInterface.
func (h *handlers) ShowStanding(ctx context.Context, r server.ShowStandingRequestObject) (server.ShowStandingResponseObject, error) {
	versions, err := h.service.Standing(ctx, callOf(ctx).who, techlog.ID(r.Standing))
	if err != nil {
		return nil, err
	}
	return server.ShowStanding200JSONResponse{Standings: each(versions, showStanding)}, nil
}

func certificateOf(e server.CertificateEntry) techlog.Certificate {
	return techlog.Certificate{
		Person: techlog.ID(e.Person), Name: e.Name, Kind: techlog.CertificateKind(e.Kind), Number: e.Number, Grade: given(e.Grade),
		Ratings: given(e.Ratings), Trained: given(e.Trained), From: e.ValidFrom, Until: given(e.ValidUntil),
		RecentFrom: given(e.RecentFrom), RecentUntil: given(e.RecentUntil), Ended: given(e.Ended),
	}
}

func standingOf(e server.StandingEntry) techlog.Standing {
	return techlog.Standing{
		Person: techlog.ID(e.Person), Name: e.Name, Aircraft: techlog.ID(given(e.Aircraft)), Kind: techlog.StandingKind(e.Kind),
		From: e.ValidFrom, Until: given(e.ValidUntil), Ended: given(e.Ended),
	}
}

func showCertificate(k techlog.Certificate) server.HeldCertificate {
	same := func(s string) string { return s }
	return server.HeldCertificate{
		Id: server.ID(k.ID), Version: k.Version, Person: server.ID(k.Person), Name: k.Name, Kind: server.CertificateKind(k.Kind),
		Number: k.Number, Grade: optional(k.Grade), Ratings: each(k.Ratings, same), Trained: each(k.Trained, same), ValidFrom: k.From,
		ValidUntil: optional(k.Until), RecentFrom: optional(k.RecentFrom), RecentUntil: optional(k.RecentUntil), Ended: k.Ended,
		EnteredBy: k.By, At: k.At,
	}
}

func showStanding(s techlog.Standing) server.Standing {
	return server.Standing{
		Id: server.ID(s.ID), Version: s.Version, Person: server.ID(s.Person), Name: s.Name, Aircraft: optionalID(s.Aircraft),
		Kind: server.StandingKind(s.Kind), ValidFrom: s.From, ValidUntil: optional(s.Until), Ended: s.Ended, EnteredBy: s.By, At: s.At,
	}
}
