package typeset

// MarkChanged gives a block with a bar beside all of it: it changed since the
// issue before.
func MarkChanged(b Block) Block {
	switch b := b.(type) {
	case Heading:
		b.Changed = true
		return b
	case Paragraph:
		b.Changed = true
		return b
	case Caution:
		b.Changed = true
		return b
	case Figure:
		b.Changed = true
		return b
	case List:
		b.Items = each(b.Items, func(it Item) Item {
			if it.Changed = true; it.Caution != nil {
				c := *it.Caution
				c.Changed = true
				it.Caution = &c
			}
			it.Blocks = each(it.Blocks, MarkChanged)
			return it
		})
		return b
	case Definitions:
		b.Rows = each(b.Rows, func(r Definition) Definition { r.Changed = true; return r })
		return b
	case Table:
		b.Groups = each(b.Groups, func(g Group) Group {
			g.Rows = each(g.Rows, func(r Row) Row { r.Changed = true; return r })
			return g
		})
		return b
	case Fields:
		b.Fields = each(b.Fields, func(f Field) Field { f.Changed = true; return f })
		return b
	case Together:
		b.Blocks = each(b.Blocks, MarkChanged)
		return b
	case Columns:
		b.Blocks = each(b.Blocks, MarkChanged)
		return b
	}
	return b
}

func each[T any](all []T, change func(T) T) []T {
	out := make([]T, len(all))
	for i, one := range all {
		out[i] = change(one)
	}
	return out
}
