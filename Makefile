# latchproof. `make demo` and `make test` install what they need first.

GO ?= go
export GOFLAGS ?= -buildvcs=false
SUDO := $(shell [ "$$(id -u)" = 0 ] || echo sudo)
OUT ?= demo-out

# Debian 12: OpenCV 4.6 for the matching, libav of FFmpeg 5.1 for the video; the rest is for the tests alone.
BUILD_PACKAGES := gcc g++ pkg-config libopencv-dev libavformat-dev libavcodec-dev libavutil-dev libswscale-dev ca-certificates git
TEST_PACKAGES  := cmark-gfm ffmpeg python3-skimage python3-scipy python3-opencv chromium python3-cryptography openssl openssh-client

.PHONY: demo test build deps test-deps check unit race fuzz bench generate clean

demo: build
	./latchproof demo --out $(OUT)

build: deps
	$(GO) build -trimpath -o latchproof ./cmd/latchproof

# deps installs the Debian packages that are missing, and nothing when none is.
deps:
	@sh .ci/packages "$(SUDO)" $(BUILD_PACKAGES)

test-deps: deps
	@sh .ci/packages "$(SUDO)" $(TEST_PACKAGES)

# test is the gate: what .ci/run calls.
test: test-deps check unit race

check:
	@echo '== gofmt, vet, staticcheck, tidy'
	@test -z "$$(gofmt -l $$(git ls-files '*.go'))" || { gofmt -l $$(git ls-files '*.go'); echo 'not gofmt-ed'; exit 1; }
	$(GO) vet ./...
	$(GO) tool staticcheck ./...
	$(GO) mod tidy -diff
	$(GO) mod verify

unit:
	@echo '== tests'
	$(GO) test -timeout 30m ./...
	@echo '== native memory of 10,000 frames'
	$(GO) test -tags matprofile ./vision -ginkgo.focus 'Mats of'

# The packages with concurrency run again under the race detector, in random order.
# In lockstep that is the reading of trace files alone; its other tests are arithmetic.
# What reports/browser tests runs in another process.
race:
	@echo '== tests under the race detector'
	$(GO) test -timeout 30m -race -short $$($(GO) list ./specs/... ./harness/... ./fixtures/... ./reports/... | grep -vE '/(lockstep|browser)$$') -ginkgo.randomize-all
	$(GO) test -race -short ./harness/lockstep -ginkgo.focus-file trace_test

# fuzz gives each fuzz target a short while: make fuzz FUZZTIME=5m
FUZZTIME ?= 20s
fuzz: test-deps
	@sh .ci/fuzz $(FUZZTIME)

bench: test-deps
	$(GO) test -run '^$$' -bench . -benchmem ./...

generate:
	$(GO) generate ./...

clean:
	rm -rf latchproof demo-out runs
