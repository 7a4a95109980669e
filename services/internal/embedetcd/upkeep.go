package embedetcd

import (
	"context"
	"fmt"

	"go.etcd.io/etcd/api/v3/etcdserverpb"
	clientv3 "go.etcd.io/etcd/client/v3"
)

// Usage is how full the database is, in bytes.
type Usage struct {
	File  int64 // size of the file, what the quota counts
	InUse int64 // what of it holds data; the rest is free pages that Defragment gives back
	Quota int64
}

// Full reports whether the file has reached the share of its quota, 0.8 for
// the alarm of the operations document.
func (u Usage) Full(share float64) bool { return float64(u.File) >= share*float64(u.Quota) }

// Usage reads the sizes; it costs nothing.
func (s *Server) Usage() Usage {
	b := s.etcd.Server.Backend()
	return Usage{File: b.Size(), InUse: b.SizeInUse(), Quota: s.quota}
}

// Alarms gives the names of the alarms that are raised: NOSPACE (the quota
// is used up: reads and deletes only) and CORRUPT. None is the good answer.
func (s *Server) Alarms() []string {
	var names []string
	for _, a := range s.etcd.Server.Alarms() {
		if a.Alarm != etcdserverpb.AlarmType_NONE {
			names = append(names, a.Alarm.String())
		}
	}
	return names
}

// Defragment rewrites the database file without its free pages. Reads and
// writes wait meanwhile, a second or so per gigabyte: run it at a quiet hour.
// It is also what makes deleted and compacted bytes leave the file.
func (s *Server) Defragment() error {
	// The in-process client's Defragment panics in etcd 3.7; the server's works.
	if err := s.etcd.Server.Defragment(); err != nil {
		return fmt.Errorf("defragment: %w", err)
	}
	return nil
}

// Disarm lowers the NOSPACE alarm, as the last step of a recovery: after room
// was made by deleting, compacting and defragmenting. An alarm whose cause is
// still there comes back with the next write. CORRUPT stays: no room made here
// answers it, and only a person may decide that it is over.
func (s *Server) Disarm(ctx context.Context) error {
	for _, a := range s.etcd.Server.Alarms() {
		if a.Alarm != etcdserverpb.AlarmType_NOSPACE {
			continue
		}
		if _, err := s.client.AlarmDisarm(ctx, (*clientv3.AlarmMember)(a)); err != nil {
			return fmt.Errorf("disarm: %w", err)
		}
	}
	return nil
}
