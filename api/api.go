// Package api holds the contract: what may be asked over HTTP and what is answered. The document is written by hand;
// the server's types and the client are generated from it.
//
// It owns the document. It does not own how requests are held against it, nor what is done with them.
package api

import _ "embed"

//go:generate go tool -modfile=../tools/go.mod oapi-codegen -config server.yaml openapi.yaml
//go:generate go tool -modfile=../tools/go.mod oapi-codegen -config client.yaml openapi.yaml

// Document is the contract, OpenAPI 3.0.3 as YAML.
//
//go:embed openapi.yaml
var Document []byte
