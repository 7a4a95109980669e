package services_test

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// pastCommit are the places that reach etcd past kv.Store.Commit, which is what
// puts the line of the audit into a change. Each is here because it changes
// nothing that a caller asked for, or only reads.
var pastCommit = map[string]string{
	"internal/kv/store.go":           "Commit itself",
	"internal/kv/txn.go":             "what Commit commits",
	"internal/kv/once.go":            "forgets old request ids",
	"internal/staging/commit.go":     "drops the chunks of an import whose commit carried the line",
	"owner/ownerstore/erasesteps.go": "sweeps up after an erasure whose decision carried the line",
	"build/buildstore/write.go":      "reads several claims at once",
	"access/accessaudit/store.go":    "reads the end of the chain and what waits at one revision",
	"works/process.go":               "forgets the elections of whoever held the directory before",
}

// writes is how a transaction of etcd begins.
var writes = regexp.MustCompile(`[cC]lient(\(\))?\.(Put|Delete|Txn|Do)\(ctx|\bclientv3\.Op(Put|Delete|Txn)\(|\.KV\.`)

func TestNothingIsWrittenPastTheAudit(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range packages(t) {
		rest, ours := strings.CutPrefix(p.ImportPath, "halfshaft/services/")
		if !ours || slices.Contains(forTests, filepath.Base(rest)) || strings.HasSuffix(rest, "test") {
			continue
		}
		for _, name := range p.GoFiles {
			path := filepath.Join(p.Dir, name)
			source, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(string(source), "go.etcd.io/etcd/client/v3") || !writes.Match(source) {
				continue
			}
			file := rest + "/" + name
			seen[file] = true
			if pastCommit[file] == "" {
				t.Errorf("%s writes to etcd past kv.Store.Commit: its effect would have no line in the audit", file)
			}
		}
	}
	for file, why := range pastCommit {
		if !seen[file] {
			t.Errorf("%s (%s) no longer reaches past kv.Store.Commit: take it off the list", file, why)
		}
	}
}
