# Everyday commands. Each works on a bare Debian machine that has Go: what else it needs
# it installs from Debian's packages, as root or through sudo.

GO   ?= go
TOOL := $(GO) tool -modfile=tools/go.mod

# What kills a mutant of the engine, the quick first: with a few random cases each, as there are thousands of mutants.
FEW  := -rapid.checks=5 -rapid.seed=1 -rapid.nofailfile -rapid.shrinktime=1ms
SLOW := TestRandomCases|TestOneFactLessNeverPermits|TestOnePlanServesManyAtOnce|TestTheLawsHoldWithCompanyRules

.PHONY: run build test lint mutants generate go postgresql compiler readers browser axe

run: postgresql build  ## serve the demonstration club on this machine
	./bin/tiedown demo

build: go
	$(GO) build -o bin/tiedown ./cmd/tiedown

test: go postgresql compiler readers browser axe  ## everything, with the race detector on
	$(GO) vet ./...
	$(GO) test -race -timeout 20m ./...
	@for module in tools bench; do ( set -ex; cd $$module; $(GO) vet ./...; $(GO) test ./... ) || exit 1; done

lint: go
	@files=$$($(TOOL) gofumpt -l .); [ -z "$$files" ] || { echo "gofumpt would change:" $$files; exit 1; }
	$(TOOL) golangci-lint run

mutants: go  ## change one thing at a time in the engine: do its tests miss it? mutants.out has the answers
	cd tools && $(GO) build -o ../bin/mutate ./mutate
	./bin/mutate -package internal/airworthiness -files '$(or $(FILES),.)' -share $(or $(SHARE),100) $(MUTATE) \
		-test "internal/airworthiness $(FEW) -test.skip=$(SLOW)" \
		-test "internal/regulation -test.run=TestStories" \
		-test "internal/airworthiness $(FEW) -test.run=$(SLOW)" \
		-test "internal/casefile $(FEW)" \
		-test "internal/regulation -test.skip=TestStories|TestEveryRowMatters|TestEveryConditionMatters" \
		-test "TIEDOWN_ORACLE_CASES=20000 internal/testrig/oracle $(FEW) -test.run=TestTheEngineAnswersAsTheOracleDoes"

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

browser:  # tests of pages walk them in a real one; pictures of every page are left in bin/screenshots
	@command -v chromium >/dev/null || { $(call install,chromium); }

axe: bin/axe/node_modules/axe-core/axe.min.js  # it looks for what keeps people from using a page

bin/axe/node_modules/axe-core/axe.min.js:
	@command -v npm >/dev/null || { $(call install,nodejs npm); }
	@mkdir -p bin/axe && npm install --silent --no-audit --no-fund --prefix bin/axe --no-save --no-package-lock axe-core@4.14.1

define install
echo "installing $(1)"; \
if [ "$$(id -u)" = 0 ]; then root=; \
elif command -v sudo >/dev/null; then root=sudo; \
else echo "install these packages first, as root: apt-get install $(1)"; exit 1; fi; \
$$root apt-get update -qq && $$root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $(1)
endef
