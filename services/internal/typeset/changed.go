package typeset

import "reflect"

// MarkChanged gives a block with a bar beside all of it: it changed since the
// issue before.
func MarkChanged(b Block) Block { return marked(b, true) }

// wholly reports whether all of a block changed.
func wholly(b Block) bool {
	all := marked(b, true)
	return reflect.DeepEqual(b, all) && !reflect.DeepEqual(all, marked(b, false))
}

// marked is a block with marks at all of it, or at nothing.
func marked(b Block, changed bool) Block {
	mark := func(inner Block) Block { return marked(inner, changed) }
	switch b := b.(type) {
	case Heading:
		b.Changed = changed
		return b
	case Paragraph:
		b.Changed = changed
		return b
	case Caution:
		b.Changed = changed
		return b
	case Figure:
		b.Changed = changed
		return b
	case List:
		b.Items = each(b.Items, func(it Item) Item {
			if it.Changed = changed; it.Caution != nil {
				c := *it.Caution
				c.Changed = changed
				it.Caution = &c
			}
			it.Blocks = each(it.Blocks, mark)
			return it
		})
		return b
	case Definitions:
		b.Rows = each(b.Rows, func(r Definition) Definition { r.Changed = changed; return r })
		return b
	case Table:
		b.Groups = each(b.Groups, func(g Group) Group {
			g.Rows = each(g.Rows, func(r Row) Row { r.Changed = changed; return r })
			return g
		})
		return b
	case Fields:
		b.Fields = each(b.Fields, func(f Field) Field { f.Changed = changed; return f })
		return b
	case Together:
		b.Blocks = each(b.Blocks, mark)
		return b
	case Columns:
		b.Blocks = each(b.Blocks, mark)
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
