//go:build long

package reminderjob

import "testing"

func TestLongNoBatchTellsOneOwnerOfAnother(t *testing.T) { batches(t, 10_000) }
