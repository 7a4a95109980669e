package desk

import (
	"fmt"
	"testing"
)

func TestPlacesThatAreFilledAlikeAreOneRow(t *testing.T) {
	row := func(at, what string) []cell { return []cell{{Text: at}, {Text: what}, {Text: "Packed in."}} }
	got := alikeOnce([][]cell{row("Engine", "5 l of oil"), row("Hub front left", "60 g of grease"), row("Hub front right", "60 g of grease"), row("Winch", "60 g of oil")})
	want := "Engine: 5 l of oil; Hub front left, hub front right: 60 g of grease, for each; Winch: 60 g of oil; "
	text := ""
	for _, r := range got {
		text += fmt.Sprintf("%s: %s; ", r[0].Text, r[1].Text)
	}
	if text != want {
		t.Errorf("got %q, want %q", text, want)
	}
}
