package pages

import "net/http"

// Behind lists the patterns of the pages for whoever has signed in.
func Behind() []string {
	p := &pages{mux: http.NewServeMux(), assets: loadAssets()}
	p.views = loadViews(p.assets)
	p.routes()
	return p.behind
}

// MayUnjudged is what the form to plan a flight says of one that has not been judged.
func MayUnjudged() bool { return (&planView{}).May() }
