package desk

import (
	"io/fs"
	"testing"
)

// Whatever an archive is: what is taken of it stays below its folder and within its
// bounds.
func FuzzImportedArchive(f *testing.F) {
	f.Add([]byte("PK"))
	f.Add(archive(f, map[string]string{"export/parts.csv": "part", "export/handbook_files/a.pdf": "%PDF"}))
	f.Add(archive(f, map[string]string{"../parts.csv": "part"}))
	f.Fuzz(func(t *testing.T, raw []byte) {
		var s sentFiles
		if s.unpack("a.zip", raw) != nil {
			return
		}
		files, err := s.all()
		if err != nil {
			return
		}
		bytes := 0
		for _, u := range files {
			if bytes += len(u.Bytes); !fs.ValidPath(u.Name) || !readKind(u.Name) || bytes > mostUnpacked {
				t.Fatalf("%q is taken", u.Name)
			}
		}
	})
}
