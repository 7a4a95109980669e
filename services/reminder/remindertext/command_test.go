package remindertext

import "testing"

func TestCommandsStandAlone(t *testing.T) {
	for text, want := range map[string]Command{
		"STOP": Stop, "stop": Stop, " Stop.\n": Stop, "“Stop”": Stop, "STOPALL": Stop, "Stop all": Stop, "UNSUBSCRIBE": Stop,
		"cancel": Stop, "END": Stop, "Quit!": Stop, "Stopp": Stop, "STOPP!": Stop,
		"START": Start, "unstop": Start, "HELP": Help, "help?": Help, "Info": Help, "Hilfe": Help,
		"": None, "Please stop by on Tuesday": None, "stop 2": None, "STOP IT": None, "nonstop": None, "don't stop": None,
		"when does it end": None, "The brakes do not stop": None, "...": None,
	} {
		if got := CommandOf(text); got != want {
			t.Errorf("%q is command %d, want %d", text, got, want)
		}
	}
}
