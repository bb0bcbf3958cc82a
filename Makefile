# make demo   builds, reads the example head, writes out/
# make test   everything: format, vet, static analysis, race tests, full tests,
#             a short turn of every fuzz target, the demo's page in a browser
# make check  the quick part of make test
# make bench  benchmarks;  make study  the accuracy study (long)
# make fuzz   every fuzz target for FUZZTIME each

GO ?= go
FUZZTIME ?= 2m
OUT ?= out
export GOFLAGS := $(GOFLAGS) -buildvcs=false

.PHONY: demo build test check format vet static quick race full fuzz fuzz-short browser bench study clean

demo: build
	./bin/seatproof demo --out $(OUT)

build:
	$(GO) build -trimpath -o bin/seatproof ./cmd/seatproof

test: format vet static race full fuzz-short browser
	@echo "make test: all passed"

check: format vet static quick

format:
	@files=$$(find . \( -name node_modules -o -name .git -o -name out \) -prune -o -name '*.go' -print | xargs gofmt -l); \
	if [ -n "$$files" ]; then echo "gofmt: these files are not formatted:"; echo "$$files"; exit 1; fi

vet:
	$(GO) vet ./...
	$(GO) -C tools vet ./...

# staticcheck has a go.mod of its own, so that the program's lists what ships.
static:
	$(GO) tool -modfile=tools/go.mod staticcheck ./...

quick:
	$(GO) test -short ./...

# The race detector makes long numerical tests ten times slower, so it sees the
# short form of each, and the full form runs without it. What is skipped in the
# full run is an error where CI is set.
race:
	@tools/need.sh gcc gcc libc6-dev
	$(GO) test -race -short ./...

full:
	$(GO) -C tools run ./gotest -dir .. ./...

fuzz-short:
	@tools/fuzz.sh 1000x

fuzz:
	@tools/fuzz.sh $(FUZZTIME)

browser: demo
	@tools/browser.sh $(OUT)/index.html

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

study:
	$(GO) run ./internal/study/run

clean:
	rm -rf bin $(OUT)
