package httpapi

import (
	"context"
	"encoding/hex"
	"net/http"
	"strconv"

	"tiedown/api/server"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// AddSquawkPhoto implements server.StrictServerInterface.
func (h *handlers) AddSquawkPhoto(ctx context.Context, r server.AddSquawkPhotoRequestObject) (server.AddSquawkPhotoResponseObject, error) {
	return h.addPhoto(ctx, techlog.PhotoOf{Squawk: techlog.ID(r.Squawk)})
}

// AddResultPhoto implements server.StrictServerInterface.
func (h *handlers) AddResultPhoto(ctx context.Context, r server.AddResultPhotoRequestObject) (server.AddResultPhotoResponseObject, error) {
	return h.addPhoto(ctx, techlog.PhotoOf{Walkaround: techlog.ID(r.Walkaround), Result: techlog.ID(r.Result)})
}

// AddSignaturePhoto implements server.StrictServerInterface.
func (h *handlers) AddSignaturePhoto(ctx context.Context, r server.AddSignaturePhotoRequestObject) (server.AddSignaturePhotoResponseObject, error) {
	return h.addPhoto(ctx, techlog.PhotoOf{Signature: techlog.ID(r.Signature)})
}

func (h *handlers) addPhoto(ctx context.Context, of techlog.PhotoOf) (*kept, error) {
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.AddPhoto(ctx, c.who, hangar.Upload{Of: of, Raw: c.body}, c.once, render(&made, http.StatusCreated, func(p techlog.Photo) shown {
		return shown{location: "/v1/photos/" + p.ID.String(), body: showPhoto(p)}
	}))
	return replay(frame, made, err)
}

// ListSquawkPhotos implements server.StrictServerInterface.
func (h *handlers) ListSquawkPhotos(ctx context.Context, r server.ListSquawkPhotosRequestObject) (server.ListSquawkPhotosResponseObject, error) {
	photos, next, err := h.photos(ctx, hangar.PhotoFilter{Squawk: techlog.ID(r.Squawk)}, r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	return server.ListSquawkPhotos200JSONResponse{Body: photos, Headers: server.ListSquawkPhotos200ResponseHeaders{Link: next}}, nil
}

// ListWalkaroundPhotos implements server.StrictServerInterface.
func (h *handlers) ListWalkaroundPhotos(ctx context.Context, r server.ListWalkaroundPhotosRequestObject) (server.ListWalkaroundPhotosResponseObject, error) {
	photos, next, err := h.photos(ctx, hangar.PhotoFilter{Walkaround: techlog.ID(r.Walkaround)}, r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	return server.ListWalkaroundPhotos200JSONResponse{Body: photos, Headers: server.ListWalkaroundPhotos200ResponseHeaders{Link: next}}, nil
}

// ListSignaturePhotos implements server.StrictServerInterface.
func (h *handlers) ListSignaturePhotos(ctx context.Context, r server.ListSignaturePhotosRequestObject) (server.ListSignaturePhotosResponseObject, error) {
	photos, next, err := h.photos(ctx, hangar.PhotoFilter{Signature: techlog.ID(r.Signature)}, r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	return server.ListSignaturePhotos200JSONResponse{Body: photos, Headers: server.ListSignaturePhotos200ResponseHeaders{Link: next}}, nil
}

func (h *handlers) photos(ctx context.Context, f hangar.PhotoFilter, limit *server.Limit, cursor *server.Cursor) (server.Photos, *string, error) {
	w, page, err := wantedRecords(limit, cursor)
	if err != nil {
		return server.Photos{}, nil, err
	}
	c := callOf(ctx)
	photos, err := h.service.Photos(ctx, c.who, f, page)
	if err != nil {
		return server.Photos{}, nil, err
	}
	photos, next := cutPage(photos, w, c.url, func(p techlog.Photo) string { return after(p.ID) })
	return server.Photos{Photos: each(photos, showPhoto)}, next, nil
}

// DownloadPhoto implements server.StrictServerInterface.
func (h *handlers) DownloadPhoto(ctx context.Context, r server.DownloadPhotoRequestObject) (server.DownloadPhotoResponseObject, error) {
	p, err := h.service.Photo(ctx, callOf(ctx).who, techlog.ID(r.Photo))
	if err != nil {
		return nil, err
	}
	return h.giveOut(ctx, p, p.Type, p.Digest, r.Params.IfNoneMatch)
}

// DownloadThumbnail implements server.StrictServerInterface.
func (h *handlers) DownloadThumbnail(ctx context.Context, r server.DownloadThumbnailRequestObject) (server.DownloadThumbnailResponseObject, error) {
	p, err := h.service.Photo(ctx, callOf(ctx).who, techlog.ID(r.Photo))
	if err != nil {
		return nil, err
	}
	if !p.HasThumbnail() {
		return nil, techlog.Errorf(techlog.KindNotFound, "a file has no thumbnail")
	}
	return h.giveOut(ctx, p, techlog.JPEG, p.Thumbnail, r.Params.IfNoneMatch)
}

// giveOut gives the content of a photo, unless whoever asks has it already.
func (h *handlers) giveOut(ctx context.Context, p techlog.Photo, as techlog.PhotoType, digest [32]byte, seen *string) (*content, error) {
	out := &content{as: as, name: p.ID.String(), tag: strconv.Quote(hex.EncodeToString(digest[:]))}
	if seen != nil && isAmong(*seen, out.tag) {
		return out, nil
	}
	var err error
	out.body, err = h.service.Content(ctx, callOf(ctx).who, digest)
	return out, err
}

// content is a photo or a file on its way out. Without a body it is one that whoever asks has already.
type content struct {
	as   techlog.PhotoType
	name string // of the file, without its ending
	tag  string
	body []byte
}

// What a browser may make of content: a picture to be seen or a file to be saved, and a document to be run in no case. It
// never changes, and is nobody's but whoever asked for it.
var (
	inSandbox = []string{"default-src 'none'; frame-ancestors 'none'; sandbox"}
	forGood   = []string{"private, max-age=31536000, immutable"}
	sameSite  = []string{"same-origin"}
)

func (c *content) write(w http.ResponseWriter) error {
	h := w.Header()
	h["Etag"] = []string{c.tag}
	h["Cache-Control"] = forGood
	h["Content-Security-Policy"] = inSandbox
	h["Cross-Origin-Resource-Policy"] = sameSite
	if c.body == nil {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	disposition := `inline; filename="` + c.name + `.jpg"`
	if c.as != techlog.JPEG {
		disposition = `attachment; filename="` + c.name + `.pdf"`
	}
	h["Content-Disposition"] = []string{disposition}
	h["Content-Type"] = []string{string(c.as)}
	h["Content-Length"] = []string{strconv.Itoa(len(c.body))}
	w.WriteHeader(http.StatusOK)
	_, err := w.Write(c.body)
	return err
}

// VisitDownloadPhotoResponse implements server.DownloadPhotoResponseObject.
func (c *content) VisitDownloadPhotoResponse(w http.ResponseWriter) error { return c.write(w) }

// VisitDownloadThumbnailResponse implements server.DownloadThumbnailResponseObject.
func (c *content) VisitDownloadThumbnailResponse(w http.ResponseWriter) error { return c.write(w) }

func showPhoto(p techlog.Photo) server.Photo {
	shown := server.Photo{
		Id: server.ID(p.ID), Squawk: optionalID(p.Of.Squawk), Walkaround: optionalID(p.Of.Walkaround), Result: optionalID(p.Of.Result),
		Signature: optionalID(p.Of.Signature), Type: server.PhotoType(p.Type), Digest: hex.EncodeToString(p.Digest[:]), Size: p.Size,
		At: p.At, By: p.By,
	}
	if p.HasThumbnail() {
		shown.Width, shown.Height = &p.Width, &p.Height
	}
	return shown
}
