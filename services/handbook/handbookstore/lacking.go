package handbookstore

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	clientv3 "go.etcd.io/etcd/client/v3"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/handbook/handbookwire"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
)

// Archive is what is on record of issues, compared with the files that are there.
type Archive struct {
	Issues, Files int
	Lacking       []Lack
}

// Lack is a file of an issue that is not there, or is not as it was issued.
type Lack struct {
	Issue, MediaType, Paper, Digest string
	Damaged                         bool // it is there, and is not what was kept
}

// String says it in a line.
func (l Lack) String() string {
	what, how := strings.TrimSpace(l.MediaType+" "+l.Paper), "is missing"
	if l.Damaged {
		how = "is not as it was issued"
	}
	return fmt.Sprintf("%s, %s %s: handbooks/%s/%s", l.Issue, what, how, l.Digest[:min(2, len(l.Digest))], l.Digest)
}

// CheckArchive reads every issue of a store and proves each of its files below
// dir. A snapshot of the store does not hold them: after a restore this says
// which have to be fetched from the copy of the directory.
func CheckArchive(ctx context.Context, client *clientv3.Client, dir string) (Archive, error) {
	r, err := client.Get(ctx, issuesPrefix, clientv3.WithPrefix())
	if err != nil {
		return Archive{}, kv.OutOfReach(err)
	}
	s, out, whole := &Store{dir: dir}, Archive{}, map[string]error{}
	for _, one := range r.Kvs {
		of, n, err := parse(string(one.Key), issuesPrefix)
		if err != nil {
			return Archive{}, err
		}
		i := &handbookv1.HandbookIssue{}
		if err := unmarshal(one.Value, i); err != nil {
			return Archive{}, err
		}
		out.Issues++
		for _, f := range i.GetFiles() {
			out.Files++
			wrong, known := whole[f.GetSha256()]
			if !known {
				wrong = s.proved(f.GetSha256())
				whole[f.GetSha256()] = wrong
			}
			if wrong != nil {
				out.Lacking = append(out.Lacking, Lack{
					Issue: handbookwire.IssueName(vehicle.Serial(of), n), MediaType: f.GetMediaType(), Paper: f.GetPaper(), Digest: f.GetSha256(),
					Damaged: !errors.Is(wrong, fs.ErrNotExist),
				})
			}
		}
	}
	return out, nil
}

// Absent counts the files of issues that are not there, without reading any: for
// the log of a start.
func (s *Store) Absent() (n int) {
	if s.dir == "" {
		return 0
	}
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	for _, issues := range s.memory.issues {
		for _, i := range issues {
			for _, f := range i.Message.GetFiles() {
				if !validDigest(f.GetSha256()) {
					continue
				}
				if _, err := os.Stat(s.path(f.GetSha256())); errors.Is(err, fs.ErrNotExist) {
					n++
				}
			}
		}
	}
	return n
}

// proved says what is wrong with a file; nil where it is what was kept.
func (s *Store) proved(digest string) error {
	if !validDigest(digest) {
		return errors.New("no digest")
	}
	content, err := os.ReadFile(s.path(digest))
	if err != nil {
		return err
	}
	if sum := sha256.Sum256(content); hex.EncodeToString(sum[:]) != digest {
		return errors.New("not as it was issued")
	}
	return nil
}
