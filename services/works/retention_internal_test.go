package works

import (
	"context"
	"errors"
	"net"

	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
)

// RetainNow makes the retention passes of a process once, each under an
// election that it won, and gives their names.
func RetainNow(ctx context.Context, p *Process) (names []string, err error) {
	for _, job := range p.retentionJobs() {
		names = append(names, job.Name)
		var failed error
		err := leader.Run(ctx, p.client, leader.Config{Name: "test-" + job.Name}, func(ctx context.Context, fence kv.Fence) error {
			failed = job.Pass(ctx, p.config.Clock(), fence)
			return nil
		})
		if err != nil || failed != nil {
			return names, errors.Join(failed, err)
		}
	}
	return names, nil
}

// DeskAddress is where the desk answers, whatever browsers call it.
func (p *Process) DeskAddress() net.Addr { return p.deskAddress }
