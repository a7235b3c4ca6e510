package httpapi

import (
	"context"

	"tiedown/api/server"
	"tiedown/internal/techlog"
)

// ShowDue implements server.StrictServerInterface.
func (h *handlers) ShowDue(ctx context.Context, r server.ShowDueRequestObject) (server.ShowDueResponseObject, error) {
	list, err := h.service.Due(ctx, callOf(ctx).who, techlog.ID(r.Aircraft))
	if err != nil {
		return nil, err
	}
	return server.ShowDue200JSONResponse(list), nil
}
