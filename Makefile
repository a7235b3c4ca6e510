# Everyday commands. Each works on a bare Debian machine that has Go: what else it needs
# it installs from Debian's packages, as root or through sudo.

GO   ?= go
TOOL := $(GO) tool -modfile=tools/go.mod

.PHONY: run build test lint generate go postgresql compiler readers

run: postgresql build  ## serve the demonstration club on this machine
	./bin/tiedown demo

build: go
	$(GO) build -o bin/tiedown ./cmd/tiedown

test: go postgresql compiler readers  ## everything, with the race detector on
	$(GO) vet ./...
	$(GO) test -race ./...
	@if [ -f bench/go.mod ]; then set -ex; cd bench; $(GO) vet ./...; $(GO) test ./...; fi

lint: go
	@files=$$($(TOOL) gofumpt -l .); [ -z "$$files" ] || { echo "gofumpt would change:" $$files; exit 1; }
	$(TOOL) golangci-lint run

generate: go
	$(GO) generate ./...

# What the commands above stand on.

go:
	@command -v $(GO) >/dev/null || { echo "Go 1.26 or newer is needed: https://go.dev/doc/install"; exit 1; }

postgresql:  # the server programs, wherever Debian or PATH has them
	@command -v initdb >/dev/null || ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1 || { $(call install,postgresql); }

compiler:  # the race detector links with C
	@command -v gcc >/dev/null || { $(call install,gcc libc6-dev); }

readers:  # tests look at printed papers as their readers do: text, ink and codes, in a font with Helvetica's measures
	@command -v pdftoppm >/dev/null && command -v zbarimg >/dev/null && command -v fc-match >/dev/null && \
	fc-match Helvetica | grep -qE 'Nimbus Sans|Liberation Sans|Arimo|TeX Gyre Heros|Helvetica' || \
	{ $(call install,poppler-utils zbar-tools fontconfig fonts-urw-base35); }

define install
echo "installing $(1)"; \
if [ "$$(id -u)" = 0 ]; then root=; \
elif command -v sudo >/dev/null; then root=sudo; \
else echo "install these packages first, as root: apt-get install $(1)"; exit 1; fi; \
$$root apt-get update -qq && $$root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $(1)
endef
