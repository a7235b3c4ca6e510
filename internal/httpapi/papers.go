package httpapi

import (
	"context"
	"errors"
	"mime"
	"net/http"
	"strconv"
	"strings"
	"time"

	"tiedown/api/server"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/papers"
	"tiedown/internal/techlog"
)

const (
	defaultLabel = "76x51"
	defaultPaper = "letter"
)

// PrintPlacard implements server.StrictServerInterface.
func (h *handlers) PrintPlacard(ctx context.Context, r server.PrintPlacardRequestObject) (server.PrintPlacardResponseObject, error) {
	label, ok := papers.LabelNamed(string(orElse(r.Params.Label, defaultLabel)))
	if !ok {
		return nil, errors.New("the contract has a label that cannot be printed")
	}
	p, err := h.service.Placard(ctx, callOf(ctx).who, techlog.ID(r.Squawk), string(given(r.Params.Method)))
	if err != nil {
		return nil, err
	}
	body, err := papers.Placards([]papers.Placard{{
		Registration: p.Registration, Item: p.Item, Place: p.Place, Method: papers.Method(p.Method), ELT: p.ELT, Words: p.Words,
		Squawk: p.Squawk.Label(), URL: h.publicURL + "/squawks/" + p.Squawk.ID.String(), Made: p.Made, Until: p.Until,
	}}, label, orElse(r.Params.Start, 1))
	if err != nil {
		return nil, placardFault(err, label)
	}
	return pdf{name: "placard-" + p.Registration + "-" + p.Squawk.Label(), body: body}, nil
}

// placardFault names the parameter by which a placard cannot be printed.
func placardFault(err error, label papers.Label) error {
	switch {
	case errors.Is(err, papers.ErrDoesNotFit):
		return casefile.Faults{{
			Field: "query.label", Rule: "fits", Says: "what stands on the placard does not fit on " + label.Name + " without being cut off",
			Remedy: "take a larger label, up to 102x152",
		}}
	case errors.Is(err, papers.ErrNoSuchPlace):
		places := 1
		if label.Sheet != nil {
			places = label.Sheet.Places()
		}
		return casefile.Faults{{
			Field: "query.start", Rule: "range", Says: label.Name + " has no such place", Remedy: "give a number from 1 to " + strconv.Itoa(places),
		}}
	default:
		return err
	}
}

// ListDeferredItems implements server.StrictServerInterface.
func (h *handlers) ListDeferredItems(ctx context.Context, r server.ListDeferredItemsRequestObject) (server.ListDeferredItemsResponseObject, error) {
	paper, ok := papers.PaperNamed(string(orElse(r.Params.Paper, defaultPaper)))
	if !ok {
		return nil, errors.New("the contract has a paper that cannot be printed on")
	}
	c := callOf(ctx)
	list, err := h.service.DeferredItems(ctx, c.who, techlog.ID(r.Aircraft))
	if err != nil {
		return nil, err
	}
	asPDF := r.Params.Format == nil && prefersPDF(c.accept)
	if r.Params.Format != nil {
		asPDF = *r.Params.Format == server.Pdf
	}
	if !asPDF {
		return varying{server.ListDeferredItems200JSONResponse(showDeferredItems(list))}, nil
	}
	body, err := papers.DeferredItems(paperOf(list), paper)
	if err != nil {
		return nil, err
	}
	return varying{pdf{name: "deferred-items-" + list.Aircraft.Registration, body: body}}, nil
}

// PrintMaintenanceEntry implements server.StrictServerInterface.
func (h *handlers) PrintMaintenanceEntry(ctx context.Context, r server.PrintMaintenanceEntryRequestObject) (server.PrintMaintenanceEntryResponseObject, error) {
	paper, ok := papers.PaperNamed(string(orElse(r.Params.Paper, defaultPaper)))
	if !ok {
		return nil, errors.New("the contract has a paper that cannot be printed on")
	}
	e, err := h.service.MaintenanceEntry(ctx, callOf(ctx).who, techlog.ID(r.Squawk))
	if err != nil {
		return nil, err
	}
	page := papers.LogPage{
		Registration: e.Aircraft.Registration, Type: e.Aircraft.Type, Squawk: e.Squawk.Label(), Discrepancy: e.Squawk.Words,
		ReportedAt: e.Squawk.ReportedAt.In(e.Zone), Work: e.Work, Completed: e.Completed, DoneBy: e.DoneBy, Made: e.Made,
	}
	if s := e.Signer; s != nil {
		page.Signer, page.Number, page.Kind = s.Name, s.CertificateNumber, strings.Join(append([]string{string(s.CertificateKind)}, s.Ratings...), ", ")
	}
	body, err := papers.LogPages(page, paper)
	if err != nil {
		return nil, err
	}
	return pdf{name: "maintenance-entry-" + e.Aircraft.Registration + "-" + e.Squawk.Label(), body: body}, nil
}

func orElse[T any](v *T, otherwise T) T {
	if v == nil {
		return otherwise
	}
	return *v
}

// prefersPDF reports whether Accept weighs PDF more than JSON (RFC 9110, 12.5.1).
func prefersPDF(accept []string) bool {
	return weight(accept, "application/pdf") > weight(accept, "application/json")
}

// weight is how much Accept wants a type: its most precise range decides. Without the header everything is wanted alike.
func weight(accept []string, media string) float64 {
	if len(accept) == 0 {
		return 1
	}
	kind, _, _ := strings.Cut(media, "/")
	precision, q := -1, 0.0
	for part := range strings.SplitSeq(strings.Join(accept, ","), ",") {
		name, parameters, err := mime.ParseMediaType(strings.TrimSpace(part))
		if err != nil {
			continue
		}
		at := -1
		switch name {
		case media:
			at = 2
		case kind + "/*":
			at = 1
		case "*/*":
			at = 0
		}
		if at <= precision {
			continue
		}
		precision, q = at, 1
		if given, ok := parameters["q"]; ok {
			if q, err = strconv.ParseFloat(given, 64); err != nil {
				q = 0
			}
		}
	}
	return q
}

// pdf is a paper on its way out.
type pdf struct {
	name string // of the file, without its ending: letters, digits and hyphens
	body []byte
}

func (p pdf) write(w http.ResponseWriter) error {
	h := w.Header()
	h.Set("Content-Type", "application/pdf")
	h.Set("Content-Length", strconv.Itoa(len(p.body)))
	h.Set("Content-Disposition", `inline; filename="`+p.name+`.pdf"`)
	w.WriteHeader(http.StatusOK)
	_, err := w.Write(p.body)
	return err
}

// VisitPrintPlacardResponse implements server.PrintPlacardResponseObject.
func (p pdf) VisitPrintPlacardResponse(w http.ResponseWriter) error { return p.write(w) }

// VisitListDeferredItemsResponse implements server.ListDeferredItemsResponseObject.
func (p pdf) VisitListDeferredItemsResponse(w http.ResponseWriter) error { return p.write(w) }

// VisitPrintMaintenanceEntryResponse implements server.PrintMaintenanceEntryResponseObject.
func (p pdf) VisitPrintMaintenanceEntryResponse(w http.ResponseWriter) error { return p.write(w) }

// varying is an answer whose form depends on Accept.
type varying struct {
	server.ListDeferredItemsResponseObject
}

// VisitListDeferredItemsResponse implements server.ListDeferredItemsResponseObject.
func (v varying) VisitListDeferredItemsResponse(w http.ResponseWriter) error {
	w.Header().Set("Vary", "Accept")
	return v.ListDeferredItemsResponseObject.VisitListDeferredItemsResponse(w)
}

func showDeferredItems(l hangar.DeferredItems) server.DeferredItems {
	return server.DeferredItems{
		Aircraft: server.ID(l.Aircraft.ID), Registration: l.Aircraft.Registration, Type: l.Aircraft.Type, AsOf: l.AsOf,
		Zone: l.Zone.String(), Caution: l.Caution,
		Items: each(l.Items, func(d hangar.DeferredItem) server.DeferredItem {
			return server.DeferredItem{
				Squawk: server.ID(d.Squawk.ID), Label: d.Squawk.Label(), Item: d.Item, Unit: optional(d.Unit), Place: optional(d.Place),
				Words: d.Squawk.Words, Since: d.Squawk.ReportedAt, Deferral: *showDeferral(d.Squawk.Deferral), Expired: d.Expired,
				Limitations: d.Limitations,
			}
		}),
		NotDeferred: each(l.NotDeferred, func(d hangar.DeferredItem) server.OpenSquawk {
			return server.OpenSquawk{
				Squawk: server.ID(d.Squawk.ID), Label: d.Squawk.Label(), Item: d.Item, Unit: optional(d.Unit), Place: optional(d.Place),
				Words: d.Squawk.Words,
			}
		}),
	}
}

func paperOf(l hangar.DeferredItems) papers.DeferredList {
	in := func(t time.Time) time.Time { return t.In(l.Zone) }
	return papers.DeferredList{
		Registration: l.Aircraft.Registration, Type: l.Aircraft.Type, AsOf: in(l.AsOf), Caution: l.Caution,
		Items: each(l.Items, func(d hangar.DeferredItem) papers.DeferredItem {
			r := d.Squawk.Deferral
			return papers.DeferredItem{
				Squawk: d.Squawk.Label(), Item: d.Item, Unit: d.Unit, Place: d.Place, Basis: r.Basis, Method: papers.Method(r.Method),
				Placard: r.Placard, Entry: r.Entry, DeterminedBy: r.DeterminedBy, DeterminedAt: in(r.DeterminedAt),
				Since: in(d.Squawk.ReportedAt), Until: in(r.Until), Limitations: d.Limitations,
			}
		}),
		NotDeferred: each(l.NotDeferred, func(d hangar.DeferredItem) string { return d.Squawk.Label() + " " + d.Item }),
	}
}
