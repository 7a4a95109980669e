# make test      all that CI checks; installs what it needs on a fresh machine
# make quick     the tests alone, without the race detector
# make lint      format, vet, staticcheck, proto lint, generated code up to date
# make generate  the Go beside the protos, anew
# make long      campaigns: the tests tagged "long" (LONGTIME), and FUZZTIME of
#                fuzzing for each fuzz target
# make screens   pictures of every page and of what is printed, into .ci/screens,
#                with index.html to look through them; HALFSHAFT_SCREENS_OF
#                chooses pages by a regular expression
# make bench     benchmarks (BENCH chooses them by pattern)
# make faults    seeds faults of access, privacy and audit one by one: a test
#                must fail for each
# make vuln      known faults in what we depend on and in the standard library
# make sbom      what the program is made of, CycloneDX, into .ci/bin
# make binary    the program as it is released, into .ci/bin: the same bytes from
#                the same commit
# make tools     builds the tools of .ci/tools into .ci/bin
#
# Needed beforehand: Go, GNU make and git. Root gets the rest from Debian;
# anybody else is told what is missing, and the step that needs it is left out.

SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.DELETE_ON_ERROR:
MAKEFLAGS += --no-print-directory

# Packages tested at once, and how long one may take. Many of them run an etcd
# of their own, so more than there are cores only makes them wait.
P ?= $(shell nproc)
TIMEOUT ?= 12m
FUZZTIME ?= 5m
LONGTIME ?= 6h
BENCH ?= .

# All packages. The demo works is named by itself: what stands below testdata is
# not in ./...
PACKAGES := ./... ./testdata/aldermoor/...

.PHONY: faults test quick lint format vet staticcheck protos generate long fuzz bench vuln sbom binary tools supply screens

# With the race detector come checks of what is done with unsafe pointers. Nothing
# here uses any, so that they only slow our libraries down, by a twelfth; and they
# end the process where the library that reads etcd's file follows one out of a
# damaged page, which our tests damage on purpose, and which it catches otherwise.
RACE := -race -gcflags=all=-d=checkptr=0

# All in one goroutine, where the race detector has nothing to find and takes six
# to ten times as long: the file exchange, which moves whole fleets, what works long
# on values, and what sets paper. And the commands, which start processes of
# themselves over and over; what goes on in one of these is in ./services/works too.
UNRACED := ./cmd/halfshaft ./services/exchange/... ./services/bulletin ./services/drivetrain \
	./services/handbook ./services/handbook/handbookprint ./services/internal/figure \
	./services/internal/photograph ./services/internal/typeset ./services/jobsheet/jobsheetprint \
	./services/parts ./services/reminder ./services/reminder/reminderletter ./services/reminder/reminderwords \
	./services/schedule ./services/schedule/forecast ./services/schedule/trend ./services/schedule/visits \
	./services/shims ./services/vehicle ./testdata/aldermoor/...

# Not vetted a second time: lint has.
TEST := .ci/gotest -vet=off -timeout $(TIMEOUT)

# Under the race detector all but those, the one that takes longest first, so that
# no core is left without work at the end. Then those without it, and the tests of
# other packages that say by racetest.Skip why they are left out under it. Not all
# at once: calls then meet their deadlines under the race detector.
test: lint
	first=./services/works; apart=$$(go list $$first $(UNRACED)); rest=$$(go list $(PACKAGES) | grep -vxF "$$apart"); \
	$(TEST) $(RACE) -p $(P) $$first $$rest
	$(MAKE) -j2 -O unraced-packages unraced-tests

.PHONY: unraced-packages unraced-tests

unraced-packages:
	$(TEST) -p $(P) $(UNRACED)

unraced-tests:
	tests=$$(.ci/unraced); $(TEST) -p $(P) $$tests

quick: tools
	.ci/gotest -p $(P) -timeout $(TIMEOUT) $(PACKAGES)

lint: format vet staticcheck protos

format:
	@bad=$$(gofmt -l $(wildcard cmd deploy proto services testdata)); \
	if [ -n "$$bad" ]; then echo "format: gofmt has something to say about:"; echo "$$bad"; exit 1; fi
	@echo "format: clean"

# With the tag "long", because a file with a build tag is otherwise never looked
# at; no file is left out by it.
vet:
	go vet -tags long $(PACKAGES)
	go vet -tags faults ./services

staticcheck: tools
	.ci/bin/staticcheck -tags long $(PACKAGES)

protos: tools
	@.ci/protos check || { s=$$?; [ $$s = 3 ] && echo "protos: left out"; }

generate: tools
	@.ci/protos generate

long: tools supply
	.ci/gotest -tags long -run Long -v -timeout $(LONGTIME) ./...
	$(MAKE) faults
	$(MAKE) fuzz

fuzz: tools
	.ci/fuzz $(FUZZTIME)

faults:
	.ci/gotest -tags faults -run TestEachSeededFaultIsCaught -v -timeout 1h ./services

bench: tools
	.ci/gotest -run '^$$' -bench '$(BENCH)' -benchmem -timeout $(LONGTIME) ./...

screens:
	HALFSHAFT_SCREENS=$(CURDIR)/.ci/screens .ci/gotest -count=1 -v -timeout $(LONGTIME) -run 'TestScreens$$' ./services/internal/sitetest

vuln: supply
	.ci/vuln

sbom: supply
	.ci/sbom .ci/bin/halfshaft.cdx.json

binary:
	.ci/binary .ci/bin/halfshaft

# Tools are built again when their versions or the Go toolchain change. The
# generator of messages comes from our own go.mod, so that generated code and
# runtime are always of one version; the rest from the tools module.
BUILT := .ci/bin/.built-$(shell go env GOVERSION)

tools: $(BUILT)

$(BUILT): .ci/tools/go.mod .ci/tools/go.sum go.mod Makefile
	@mkdir -p .ci/bin
	go build -o .ci/bin/ google.golang.org/protobuf/cmd/protoc-gen-go
	cd .ci/tools && go build -o ../bin/ \
		github.com/bufbuild/buf/cmd/buf \
		google.golang.org/grpc/cmd/protoc-gen-go-grpc \
		honnef.co/go/tools/cmd/staticcheck \
		go.etcd.io/etcd/etcdctl/v3 \
		go.etcd.io/etcd/etcdutl/v3
	cd .ci/tools && go build -o ../bin/etcd go.etcd.io/etcd/server/v3
	@rm -f .ci/bin/.built-*
	@touch $@

# What looks at the supply chain; tests without the tag "long" need none of it.
SUPPLY := .ci/bin/.supply-$(shell go env GOVERSION)

supply: $(SUPPLY)

$(SUPPLY): .ci/tools/go.mod .ci/tools/go.sum .ci/tools/checksbom/main.go
	@mkdir -p .ci/bin
	cd .ci/tools && go build -o ../bin/ \
		golang.org/x/vuln/cmd/govulncheck \
		github.com/CycloneDX/cyclonedx-gomod/cmd/cyclonedx-gomod \
		./checksbom
	@rm -f .ci/bin/.supply-*
	@touch $@
