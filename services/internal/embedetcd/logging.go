package embedetcd

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"sync/atomic"

	"go.uber.org/zap"
	"go.uber.org/zap/zapcore"
)

// quietCore passes etcd's log on to slog: errors as they are, warnings at
// level Debug, since etcd warns of every setting that is normal for a lone
// member, and the rest not at all. While the server closes, etcd logs as
// errors what Close meant to happen; from then on nothing passes.
type quietCore struct {
	logger  *slog.Logger
	closing atomic.Bool
	fields  []zapcore.Field
	parent  *quietCore // where closing stands, for a core made by With
}

func (c *quietCore) zap() *zap.Logger { return zap.New(c) }

func (c *quietCore) root() *quietCore {
	if c.parent != nil {
		return c.parent
	}
	return c
}

// level gives the slog level of a line, and whether it passes.
func (c *quietCore) level(l zapcore.Level) (slog.Level, bool) {
	switch {
	case c.root().closing.Load() && l < zapcore.DPanicLevel:
		return 0, false
	case l >= zapcore.ErrorLevel:
		return slog.LevelError, true
	case l == zapcore.WarnLevel:
		return slog.LevelDebug, true
	}
	return 0, false
}

// Enabled implements zapcore.LevelEnabler.
func (c *quietCore) Enabled(l zapcore.Level) bool {
	level, ok := c.level(l)
	return ok && c.logger.Enabled(context.Background(), level)
}

// With implements zapcore.Core.
func (c *quietCore) With(fields []zapcore.Field) zapcore.Core {
	all := append(append([]zapcore.Field{}, c.fields...), fields...)
	return &quietCore{logger: c.logger, fields: all, parent: c.root()}
}

// Check implements zapcore.Core.
func (c *quietCore) Check(e zapcore.Entry, ce *zapcore.CheckedEntry) *zapcore.CheckedEntry {
	if c.Enabled(e.Level) {
		return ce.AddCore(e, c)
	}
	return ce
}

// tooEarly is what etcd 3.7 logs as an error when it looks for its storage
// version before its first entry is applied, as in every new directory; it
// looks again four seconds later (etcdserver/server.go, monitorStorageVersion).
const tooEarly = "failed to update storage version"

// readFailed is what etcd 3.7 logs as an error when a transaction that only
// reads cannot be finished (etcdserver/txn/txn.go, txn). Its caller is told; and
// where the caller has stopped waiting, nothing is wrong.
const readFailed = "unexpected error during readonly txn"

// callerLeft says whether the error of a line is that nobody waits any more.
func callerLeft(fields []zapcore.Field) bool {
	return slices.ContainsFunc(fields, func(f zapcore.Field) bool {
		err, ok := f.Interface.(error)
		return ok && (errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded))
	})
}

// Write implements zapcore.Core.
func (c *quietCore) Write(e zapcore.Entry, fields []zapcore.Field) error {
	level, ok := c.level(e.Level)
	if !ok {
		return nil
	}
	if e.Message == tooEarly || e.Message == readFailed && callerLeft(fields) {
		level = slog.LevelDebug
	}
	enc := zapcore.NewMapObjectEncoder()
	for _, f := range append(append([]zapcore.Field{}, c.fields...), fields...) {
		f.AddTo(enc)
	}
	attrs := make([]slog.Attr, 0, len(enc.Fields))
	for k, v := range enc.Fields {
		attrs = append(attrs, slog.Any(k, v))
	}
	c.logger.LogAttrs(context.Background(), level, "etcd: "+e.Message, attrs...)
	return nil
}

// Sync implements zapcore.Core; slog has nothing to flush.
func (c *quietCore) Sync() error { return nil }
