package audit

import "context"

// Detail is what only the handler of a change can say of it.
type Detail struct {
	Objects []string // what it makes, which has no name in the request
	Fields  []string // what of a record becomes another, or "closed" and "opened"; names, no values
}

// With puts the detail into a line.
func (l Line) With(d Detail) Line {
	l.Objects = append(append([]string(nil), l.Objects...), d.Objects...)
	l.Fields = append(append([]string(nil), l.Fields...), d.Fields...)
	return l
}

type detailKey struct{}

// WithDetailing gives a context in which a handler may say the detail of what
// it is about to change. tell takes that in, and gives the context for what
// follows.
func WithDetailing(ctx context.Context, tell func(context.Context, Detail) context.Context) context.Context {
	return context.WithValue(ctx, detailKey{}, tell)
}

// Changing says the detail of a change: its line has it from now on. It must be
// said once, and before the first effect. Where no audit is kept, it says nothing.
func Changing(ctx context.Context, d Detail) context.Context {
	if tell, ok := ctx.Value(detailKey{}).(func(context.Context, Detail) context.Context); ok {
		return tell(ctx, d)
	}
	return ctx
}

// Making says what a change makes.
func Making(ctx context.Context, object string) context.Context {
	return Changing(ctx, Detail{Objects: []string{object}})
}
