package httpapi

import (
	"context"
	"encoding/hex"
	"net/http"

	"tiedown/api/server"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// PreviewSignature implements server.StrictServerInterface.
func (h *handlers) PreviewSignature(ctx context.Context, r server.PreviewSignatureRequestObject) (server.PreviewSignatureResponseObject, error) {
	s, err := h.service.Preview(ctx, callOf(ctx).who, hangar.ToSign{Squawk: techlog.ID(r.Squawk), Act: r.Body.Act})
	if err != nil {
		return nil, err
	}
	return server.PreviewSignature200JSONResponse(showShown(s)), nil
}

// PreviewInspection implements server.StrictServerInterface.
func (h *handlers) PreviewInspection(ctx context.Context, r server.PreviewInspectionRequestObject) (server.PreviewInspectionResponseObject, error) {
	s, err := h.service.Preview(ctx, callOf(ctx).who, hangar.ToSign{Aircraft: techlog.ID(r.Aircraft), Act: r.Body.Act})
	if err != nil {
		return nil, err
	}
	return server.PreviewInspection200JSONResponse(showShown(s)), nil
}

// SignSquawk implements server.StrictServerInterface.
func (h *handlers) SignSquawk(ctx context.Context, r server.SignSquawkRequestObject) (server.SignSquawkResponseObject, error) {
	return h.sign(ctx, r.Params.IfMatch, r.Body, hangar.ToSign{Squawk: techlog.ID(r.Squawk)})
}

// SignInspection implements server.StrictServerInterface.
func (h *handlers) SignInspection(ctx context.Context, r server.SignInspectionRequestObject) (server.SignInspectionResponseObject, error) {
	return h.sign(ctx, r.Params.IfMatch, r.Body, hangar.ToSign{Aircraft: techlog.ID(r.Aircraft)})
}

func (h *handlers) sign(ctx context.Context, ifMatch string, body *server.Signing, about hangar.ToSign) (*kept, error) {
	version, err := seenVersion(ifMatch)
	if err != nil {
		return nil, err
	}
	about.Version, about.Act = version, body.Act
	signing := hangar.Signing{ToSign: about}
	if signing.Proof, err = proofOf(body.Proof); err != nil {
		return nil, err
	}
	_, _ = hex.Decode(signing.Digest[:], []byte(body.Digest)) // it has passed the contract
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.Sign(ctx, c.who, signing, c.once, render(&made, http.StatusCreated, func(s hangar.Signed) shown {
		return shown{body: showSigned(s)}
	}))
	return replay(frame, made, err)
}

// proofOf reads the proof, of which there is exactly one.
func proofOf(p server.Proof) (hangar.Proof, error) {
	byPasskey := p.Challenge != nil && p.Response != nil
	half := (p.Challenge != nil) != (p.Response != nil)
	if half || (p.Password != nil) == byPasskey {
		return hangar.Proof{}, casefile.Faults{{
			Field: "proof", Rule: "one-proof", Says: "it takes exactly one proof",
			Remedy: "give your password, or your passkey's answer with the challenge of POST /v1/proofs that it answers",
		}}
	}
	return enteredProof(p), nil
}

// ListSignatures implements server.StrictServerInterface.
func (h *handlers) ListSignatures(ctx context.Context, r server.ListSignaturesRequestObject) (server.ListSignaturesResponseObject, error) {
	signatures, err := h.service.Signatures(ctx, callOf(ctx).who, techlog.ID(r.Aircraft))
	if err != nil {
		return nil, err
	}
	return server.ListSignatures200JSONResponse{Signatures: each(signatures, showSignature)}, nil
}

// MoveSquawk implements server.StrictServerInterface.
func (h *handlers) MoveSquawk(ctx context.Context, r server.MoveSquawkRequestObject) (server.MoveSquawkResponseObject, error) {
	version, err := versionOf(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	move := hangar.Move{
		Squawk: techlog.ID(r.Squawk), Version: version, Step: techlog.SquawkStep(r.Body.Step), Words: r.Body.Words, Of: techlog.ID(given(r.Body.Of)),
		Expected: given(r.Body.Expected),
	}
	if a := r.Body.About; a != nil {
		move.About = &hangar.Subjected{Kind: string(a.Kind), Unit: given(a.Unit), Item: given(a.Item)}
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.MoveSquawk(ctx, c.who, move, c.once, render(&made, http.StatusOK, func(f hangar.FiledSquawk) shown {
		return shown{version: f.Squawk.Version, body: server.FiledSquawk{Squawk: showSquawk(f.Squawk), Changes: each(f.Changes, showChange)}}
	}))
	return replay(frame, made, err)
}

func showShown(s hangar.Shown) server.ShownRecord {
	return server.ShownRecord{
		Text: s.Text, Digest: hex.EncodeToString(s.Digest[:]), Version: s.Version, Authority: each(s.Authority, showReason),
	}
}

func showReason(r techlog.Reason) server.Reason {
	return server.Reason{Row: r.Row, Citation: r.Citation, Words: r.Words, Status: r.Status}
}

func showSigned(s hangar.Signed) server.SignedRecord {
	signed := server.SignedRecord{Signature: showSignature(s.Signature), Changes: each(s.Changes, showChange)}
	if s.Squawk != nil {
		signed.Squawk = new(showSquawk(*s.Squawk))
	}
	if s.Aircraft != nil {
		signed.AircraftVersion = &s.Aircraft.Version
	}
	return signed
}

func showSignature(s techlog.Signature) server.Signature {
	return server.Signature{
		Id: server.ID(s.ID), Aircraft: server.ID(s.Aircraft), Squawk: optionalID(s.Squawk), Action: s.Action, Person: server.ID(s.Person),
		Name: s.Name, Certificate: server.ID(s.Certificate), CertificateVersion: s.CertificateVersion,
		CertificateKind: server.CertificateKind(s.CertificateKind), CertificateNumber: s.CertificateNumber,
		Ratings: each(s.Ratings, func(r string) string { return r }), Authority: each(s.Authority, showReason),
		Digest: hex.EncodeToString(s.Digest[:]), Text: s.Text, Proven: server.SignatureProven(s.Proven), Day: s.Day, At: s.At,
		Corrects: optionalID(s.Corrects),
	}
}

// optionalID leaves out the identifier of nothing.
func optionalID(id techlog.ID) *server.ID {
	if id.IsZero() {
		return nil
	}
	return new(server.ID(id))
}
