# make test      all that CI checks; installs what it needs on a fresh machine
# make quick     the tests without the race detector and the checks around them
# make lint      format, vet, staticcheck, proto lint, generated code up to date
# make generate  the Go beside the protos, anew
# make long      campaigns of tests and fuzzing that take hours (FUZZTIME, LONGTIME)
# make bench     benchmarks, with their ratios (BENCH)
# make vuln      known faults in what we depend on; needs the vulnerability database
# make tools     builds the tools of .ci/tools into .ci/bin
#
# Needed beforehand: Go, GNU make, git. Root gets the rest from Debian; anybody
# else is told what is missing.

SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.DELETE_ON_ERROR:
MAKEFLAGS += --no-print-directory

# Tools are built again when their versions or the Go toolchain change.
STAMP := .ci/bin/.built-$(shell go env GOVERSION)

.PHONY: generate tools
tools: $(STAMP)

# protoc-gen-go comes from our own go.mod, so that generated code and runtime
# are always of one version; the rest from the tools module.
$(STAMP): .ci/tools/go.mod .ci/tools/go.sum go.mod
	@mkdir -p .ci/bin
	go build -o .ci/bin/ google.golang.org/protobuf/cmd/protoc-gen-go
	cd .ci/tools && go build -o ../bin/ github.com/bufbuild/buf/cmd/buf google.golang.org/grpc/cmd/protoc-gen-go-grpc
	@rm -f .ci/bin/.built-*
	@touch $@

generate: $(STAMP)
	@.ci/protos generate
