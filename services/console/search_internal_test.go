package console

import "testing"

func TestASerialInFrontOfWordsIsToldApart(t *testing.T) {
	for query, want := range map[string]string{
		"AM0101G fan belt": "AM0101G|fan belt", "am 0101 g fan belt": "AM0101G|fan belt", "AM0101G": "AM0101G|WORDS",
		"AM0101X fan belt": "|", "fan belt AM0101G": "|", "AP-2041": "|", "": "|",
	} {
		serial, words := leadingSerial(query)
		if got := string(serial) + "|" + words; got != want {
			t.Errorf("%q: got %q, want %q", query, got, want)
		}
	}
}
