package aldermoor

import (
	"embed"
	"io/fs"
)

//go:embed words
var words embed.FS

// Words are the works' own words for its notices, as reminderwords.New takes
// them: what its programme and catalogue say, in German.
func Words() fs.FS {
	sub, err := fs.Sub(words, "words")
	if err != nil {
		panic(err) // the name is a constant
	}
	return sub
}
