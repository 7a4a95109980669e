package privacy_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
	"halfshaft/services/internal/privacy"
)

const root = "../../../"

func TestTheInventoryIsAsTheProtosSayIt(t *testing.T) {
	const path = root + "deploy/PERSONAL-DATA.md"
	got := privacy.Document(privacy.Inventory(protoregistry.GlobalFiles))
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s is not what the protos say; run this test with -update and read what changed", path)
	}
}

// What is decided here is decided for all protos of the tree.
func TestNoProtoIsLeftOutOfTheInventory(t *testing.T) {
	known := map[string]bool{}
	protoregistry.GlobalFiles.RangeFiles(func(fd protoreflect.FileDescriptor) bool {
		known[fd.Path()] = true
		return true
	})
	files, err := filepath.Glob(root + "proto/halfshaft/*/*/*.proto")
	if err != nil || len(files) == 0 {
		t.Fatalf("%d protos: %v", len(files), err)
	}
	for _, file := range files {
		if path := strings.TrimPrefix(filepath.ToSlash(file), root+"proto/"); !known[path] {
			t.Errorf("%s is not linked into this test: import its Go package here", path)
		}
	}
}

func TestEveryRuleAndCategoryHasItsWords(t *testing.T) {
	text := privacy.Document(privacy.Inventory(protoregistry.GlobalFiles))
	for number := range privacyv1.Keep_name {
		k := privacyv1.Keep(number)
		if said := privacy.KeepRules()[k]; k != privacyv1.Keep_KEEP_UNSPECIFIED && (said == "" || !strings.Contains(text, said)) {
			t.Errorf("%v has no sentence in the inventory", k)
		}
	}
	if n := strings.Count(text, "### "); n != len(privacyv1.Category_name)-1 {
		t.Errorf("the inventory has %d categories, want %d", n, len(privacyv1.Category_name)-1)
	}
}
