package pages

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
	"path"
	"strconv"
	"strings"
)

//go:embed assets
var assetFiles embed.FS

// asset is one file that pages load.
type asset struct {
	media  string
	plain  []byte
	zipped []byte
}

// assets are files by their names with the digest in it, and these names by the plain ones.
type assets struct {
	files map[string]asset
	names map[string]string
}

var mediaTypes = map[string]string{
	".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml",
}

func loadAssets() assets {
	a := assets{map[string]asset{}, map[string]string{}}
	entries, err := fs.ReadDir(assetFiles, "assets")
	if err != nil {
		panic(err) // the folder is a constant of this file
	}
	for _, e := range entries {
		raw, err := assetFiles.ReadFile("assets/" + e.Name())
		if err != nil {
			panic(err)
		}
		digest := sha256.Sum256(raw)
		ending := path.Ext(e.Name())
		name := strings.TrimSuffix(e.Name(), ending) + "." + hex.EncodeToString(digest[:6]) + ending
		a.names[e.Name()] = "/assets/" + name
		a.files[name] = asset{mediaTypes[ending], raw, zip(raw)}
	}
	return a
}

func zip(raw []byte) []byte {
	var b bytes.Buffer
	w, _ := gzip.NewWriterLevel(&b, gzip.BestCompression) // the level is one
	_, _ = w.Write(raw)                                   // a buffer takes everything
	_ = w.Close()
	return b.Bytes()
}

// serve gives out a file, for good: another content has another name. Only files are zipped: a page holds a secret of its
// session beside words that others may choose, and its length would tell.
func (a assets) serve(w http.ResponseWriter, r *http.Request) {
	file, ok := a.files[r.PathValue("name")]
	if !ok {
		http.Error(w, "there is no such file", http.StatusNotFound)
		return
	}
	h := w.Header()
	h.Set("Content-Type", file.media)
	h.Set("Cache-Control", "public, max-age=31536000, immutable")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Content-Security-Policy", "default-src 'none'")
	h.Set("Vary", "Accept-Encoding")
	body := file.plain
	if strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		h.Set("Content-Encoding", "gzip")
		body = file.zipped
	}
	h.Set("Content-Length", strconv.Itoa(len(body)))
	_, _ = w.Write(body) // whoever asked may have gone
}
