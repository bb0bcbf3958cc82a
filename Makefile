# make demo   builds, reads the example head, writes out/
# make test   everything: format, vet, static analysis, race tests, full tests,
#             a short turn of every fuzz target, the demo's page in a browser
# make check  the quick part of make test
# make run    builds, opens the example head in the browser
# make guide  takes the pictures of docs/first-port.md and README.md again, and
#             draws the charts of docs/rig.md
# make assets bundles the sheets (what is committed; go build needs no node)
# make upload-large  sends a recording of 200 MB by the browser, timed
# make bench  benchmarks;  make study  the accuracy study (long)
# make bench-engine  the engine's cycles beside SUNDIALS CVODE (minutes)
# make fuzz   every fuzz target for FUZZTIME each

GO ?= go
FUZZTIME ?= 2m
OUT ?= out
export GOFLAGS := $(GOFLAGS) -buildvcs=false

.PHONY: demo build run assets assets-fresh ui upload-large guide test check format vet static quick race full fuzz fuzz-short browser bench bench-engine study clean

demo: build
	./bin/seatproof demo --out $(OUT)

build:
	$(GO) build -trimpath -o bin/seatproof ./cmd/seatproof

test: format vet static assets-fresh race full fuzz-short browser ui
	@echo "make test: all passed"

check: format vet static quick

format:
	@files=$$(find . \( -name node_modules -o -name .git -o -name out \) -prune -o -name '*.go' -print | xargs gofmt -l); \
	if [ -n "$$files" ]; then echo "gofmt: these files are not formatted:"; echo "$$files"; exit 1; fi

vet:
	$(GO) vet ./...
	$(GO) -C tools vet ./...
	$(GO) -C tools/assets vet ./...

# staticcheck has a go.mod of its own, so that the program's lists what ships.
static:
	$(GO) tool -modfile=tools/go.mod staticcheck ./...

quick:
	$(GO) test -short ./...

# The race detector makes long numerical tests ten times slower, so it sees the
# short form of each, and the full form runs without it. The packages at the root
# start no goroutine (TestPure in deps_test.go): it sees them from those above. What is skipped in
# the full run is an error where CI is set.
race:
	@tools/need.sh gcc gcc libc6-dev
	@tools/need.sh mosquitto mosquitto
	$(GO) test -p 3 -race -short ./internal/... ./cmd/...

full:
	@tools/need.sh mosquitto mosquitto
	@tools/need.sh pdftotext poppler-utils
	$(GO) -C tools run ./gotest -dir .. -- -p 3 ./...

fuzz-short:
	@tools/fuzz.sh 1000x

fuzz:
	@tools/fuzz.sh $(FUZZTIME)

browser: demo
	@tools/browser.sh $(OUT)/index.html

# The sheets in a real browser: the first port, every sheet, every size.
ui: build
	@tools/browser.sh --ui ./bin/seatproof $(OUT)

# A recording of 200 MB by the browser, with time and memory; make ui tries 40 MB.
upload-large: build
	@UPLOAD_MB=200 tools/browser.sh --ui ./bin/seatproof $(OUT) upload-large

# Not part of the tests: the pictures are committed, and each run's dates differ.
guide: build
	@tools/browser.sh --guide ./bin/seatproof docs/pictures
	@$(GO) test -count=1 -run TestRigGuide ./internal/app -update

run: build
	./bin/seatproof --data $(OUT)/run --example examples/inline-three

# The bundle is committed; whoever changes a sheet makes it again.
assets:
	@tools/assets.sh

assets-fresh: assets
	@git diff --quiet -- internal/web/assets || { echo "internal/web/assets is not what internal/web/app makes: commit what make assets wrote"; git --no-pager diff --stat -- internal/web/assets; exit 1; }

bench: build
	$(GO) test -run '^$$' -bench . -benchmem ./...
	@tools/browser.sh --ui ./bin/seatproof $(OUT) speed paint

# Needs gcc and libsundials-dev, which it installs; no part of the tests.
bench-engine:
	internal/study/engine/compare.sh $(OUT)/bench-engine.txt

study:
	$(GO) run ./internal/study/run

clean:
	rm -rf bin $(OUT)
