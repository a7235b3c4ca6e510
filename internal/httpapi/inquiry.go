package httpapi

import (
	"context"

	"tiedown/api/server"
	"tiedown/internal/inquiry"
	"tiedown/internal/techlog"
)

// Evaluate implements server.StrictServerInterface.
func (h *handlers) Evaluate(_ context.Context, r server.EvaluateRequestObject) (server.EvaluateResponseObject, error) {
	answer, err := h.service.Evaluate(*r.Body)
	if err != nil {
		return nil, err
	}
	evaluation := inquiry.Evaluation{Answer: answer}
	if given(r.Params.Settle) {
		settling, err := h.service.Settle(*r.Body)
		if err != nil {
			return nil, err
		}
		evaluation.Settling = &settling
	}
	return server.Evaluate200JSONResponse(evaluation), nil
}

// ShowEnvelope implements server.StrictServerInterface.
func (h *handlers) ShowEnvelope(ctx context.Context, r server.ShowEnvelopeRequestObject) (server.ShowEnvelopeResponseObject, error) {
	e, err := h.service.Envelope(ctx, callOf(ctx).who, techlog.ID(r.Aircraft), given(r.Params.Until))
	if err != nil {
		return nil, err
	}
	return server.ShowEnvelope200JSONResponse(e), nil
}

// FindEnvelope implements server.StrictServerInterface.
func (h *handlers) FindEnvelope(_ context.Context, r server.FindEnvelopeRequestObject) (server.FindEnvelopeResponseObject, error) {
	e, err := h.service.FindEnvelope(*r.Body)
	if err != nil {
		return nil, err
	}
	return server.FindEnvelope200JSONResponse(e), nil
}
