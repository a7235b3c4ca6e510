package httpapi

import (
	"context"
	"net/http"
	"strconv"

	"tiedown/api/server"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// DownloadReceipt implements server.StrictServerInterface.
func (h *handlers) DownloadReceipt(ctx context.Context, r server.DownloadReceiptRequestObject) (server.DownloadReceiptResponseObject, error) {
	number := given(r.Params.Number)
	receipt, err := h.service.Receipt(ctx, callOf(ctx).who, hangar.Receiptable(r.Kind), techlog.ID(r.Record), number)
	if err != nil {
		return nil, casefile.Renamed(err, func(field string) string { return "query." + field })
	}
	name := "receipt-" + r.Kind + "-" + techlog.ID(r.Record).String()
	if number > 0 {
		name += "-" + strconv.Itoa(number)
	}
	return text{name: name, body: receipt}, nil
}

// ShowCheckpoint implements server.StrictServerInterface.
func (h *handlers) ShowCheckpoint(ctx context.Context, _ server.ShowCheckpointRequestObject) (server.ShowCheckpointResponseObject, error) {
	signed, err := h.service.Checkpoint(ctx, callOf(ctx).who)
	return text{body: signed}, err
}

// ShowLogKey implements server.StrictServerInterface.
func (h *handlers) ShowLogKey(context.Context, server.ShowLogKeyRequestObject) (server.ShowLogKeyResponseObject, error) {
	return text{body: h.service.LogKey() + "\n"}, nil
}

// text is plain text on its way out.
type text struct {
	name string // of the file to keep it in, without its ending; empty: to be shown
	body string
}

func (t text) write(w http.ResponseWriter) error {
	h := w.Header()
	h.Set("Content-Type", "text/plain; charset=utf-8")
	h.Set("Content-Length", strconv.Itoa(len(t.body)))
	if t.name != "" {
		h.Set("Content-Disposition", `attachment; filename="`+t.name+`.txt"`)
	}
	w.WriteHeader(http.StatusOK)
	_, err := w.Write([]byte(t.body))
	return err
}

// VisitDownloadReceiptResponse implements server.DownloadReceiptResponseObject.
func (t text) VisitDownloadReceiptResponse(w http.ResponseWriter) error { return t.write(w) }

// VisitShowCheckpointResponse implements server.ShowCheckpointResponseObject.
func (t text) VisitShowCheckpointResponse(w http.ResponseWriter) error { return t.write(w) }

// VisitShowLogKeyResponse implements server.ShowLogKeyResponseObject.
func (t text) VisitShowLogKeyResponse(w http.ResponseWriter) error { return t.write(w) }
