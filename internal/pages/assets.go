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
	".png": "image/png",
}

// bundles are files that are made of the files of a folder, one after the other in the order of their names, so that a page
// loads one and whoever changes it finds a small one. Each part of the script stands in a block of its own.
var bundles = []struct{ name, folder, head, before, after string }{
	{name: "style.css", folder: "style"},
	{"pages.js", "script", "\"use strict\";\n", "{\n", "}\n"},
}

func loadAssets() assets {
	a := assets{map[string]asset{}, map[string]string{}}
	for _, e := range folder("assets") {
		if !e.IsDir() {
			a.add(e.Name(), read("assets/"+e.Name()))
		}
	}
	for _, b := range bundles {
		whole := []byte(b.head)
		for _, e := range folder("assets/" + b.folder) {
			whole = append(whole, b.before...)
			whole = append(whole, read("assets/"+b.folder+"/"+e.Name())...)
			whole = append(whole, b.after...)
		}
		a.add(b.name, whole)
	}
	return a
}

// add takes in a file, under a name that has its digest.
func (a assets) add(name string, raw []byte) {
	digest := sha256.Sum256(raw)
	ending := path.Ext(name)
	digested := strings.TrimSuffix(name, ending) + "." + hex.EncodeToString(digest[:6]) + ending
	a.names[name] = "/assets/" + digested
	a.files[digested] = asset{mediaTypes[ending], raw, zip(raw)}
}

// folder and read cannot fail: the files are part of the program.
func folder(name string) []fs.DirEntry {
	entries, err := fs.ReadDir(assetFiles, name)
	if err != nil {
		panic(err)
	}
	return entries
}

func read(name string) []byte {
	raw, err := assetFiles.ReadFile(name)
	if err != nil {
		panic(err)
	}
	return raw
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
