package exchange

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/testing/protocmp"
	"google.golang.org/protobuf/types/known/timestamppb"
	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

// Whatever a service may keep, the rows of an export give it back.
func TestEveryRecordComesBackFromItsRows(t *testing.T) {
	for _, table := range Tables() {
		if table.IsLine() {
			continue
		}
		t.Run(table.Name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				want := anyRecord(t, table)
				c := NewCollection()
				sheets := map[*Table]*Sheet{}
				rows := table.Rows(want)
				for i, row := range rows {
					s := sheets[row.Table]
					if s == nil {
						s = c.Sheet(row.Table.FileName(), "", row.Table)
						s.Row(1, cellsOf(row.Table.Header()))
						sheets[row.Table] = s
					}
					s.Row(i+2, cellsOf(row.Cells))
				}
				c.Join()
				if faults := c.Faults.Sorted(); len(faults) > 0 {
					t.Fatalf("%v\nof %v", faults, rows)
				}
				got := c.Message(c.Draft(nameOf(want)))
				if diff := cmp.Diff(want, got, protocmp.Transform()); diff != "" {
					t.Errorf("(-exported +imported)\n%s\nby %v", diff, rows)
				}
				if again := table.Rows(got); !slices.EqualFunc(rows, again, func(a, b Row) bool { return a.Table == b.Table && slices.Equal(a.Cells, b.Cells) }) {
					t.Errorf("exported again the rows differ: %v, then %v", rows, again)
				}
			})
		})
	}
}

func cellsOf(texts []string) []Cell {
	var out []Cell
	for _, text := range texts {
		out = append(out, Cell{Text: text})
	}
	return out
}

func nameOf(m proto.Message) string {
	r := m.ProtoReflect()
	return r.Get(r.Descriptor().Fields().ByName("name")).String()
}

// anyRecord makes a record with lines.
func anyRecord(t *rapid.T, table *Table) proto.Message {
	m := table.message.New()
	fillColumns(t, table, m)
	name, _ := table.name(map[string]string{
		"serial": "AM0147P", "id": anyWord.Draw(t, "id"), "part": anyWord.Draw(t, "part"), "person": anyWord.Draw(t, "person"),
	})
	m.Set(m.Descriptor().Fields().ByName("name"), protoreflect.ValueOfString(name))
	for _, lines := range Tables() {
		if lines.parent != table.Name || lines.joins != "" {
			continue
		}
		list := m.Mutable(m.Descriptor().Fields().ByName(protoreflect.Name(lines.field))).List()
		for i := range rapid.IntRange(0, 3).Draw(t, lines.Name) {
			element := list.NewElement()
			fillColumns(t, lines, element.Message())
			for _, under := range Tables() {
				outer, inner, nested := cutField(under.field)
				if under.parent == table.Name && nested && outer == lines.field {
					// Lines of lines are joined by this field, so no two may share it.
					key := element.Message().Descriptor().Fields().ByName(protoreflect.Name(under.joins))
					element.Message().Set(key, protoreflect.ValueOfString(fmt.Sprintf("T%02d", i)))
					anyLines(t, under, element.Message(), inner)
				}
			}
			list.Append(element)
		}
	}
	return m.Interface()
}

func anyLines(t *rapid.T, lines *Table, m protoreflect.Message, field string) {
	list := m.Mutable(m.Descriptor().Fields().ByName(protoreflect.Name(field))).List()
	for range rapid.IntRange(0, 2).Draw(t, lines.Name) {
		element := list.NewElement()
		fillColumns(t, lines, element.Message())
		list.Append(element)
	}
}

// fillColumns gives each column a value, or none where it may be empty.
func fillColumns(t *rapid.T, table *Table, m protoreflect.Message) {
	for i := range table.Columns {
		c := &table.Columns[i]
		if c.Path == "" || c.Alone || !c.Required && c.Default == "" && !rapid.Bool().Draw(t, "whether "+c.Name) {
			continue
		}
		anyValue(t, c, m, table.ordered[i])
	}
}

var (
	anyWord = rapid.StringMatching(`[A-Za-z0-9][A-Za-z0-9._-]{0,20}`)
	anyText = rapid.Map(rapid.OneOf(
		rapid.StringN(1, 40, 200),
		rapid.SampledFrom([]string{"=1+1", "'", "'=x", "''", "-", "+44", "@x", " leading", "trailing ", "\tx", "a\nb", "a\r\nb", "\rx", ";", `\;`, `a\`, "x; y", "'quoted'", "\u00a0", "0.10", "yes"}),
	), plain).Filter(func(s string) bool { return strings.TrimSpace(s) != "" })
	// The texts of a list are kept without blanks at their ends and on one line.
	anyLine = rapid.Map(anyText, func(s string) string { return strings.TrimSpace(strings.ReplaceAll(s, "\n", " ")) }).
		Filter(func(s string) bool { return s != "" })
	anyDecimal = rapid.Map(rapid.IntRange(0, 9), func(scale int) vehicle.Decimal {
		return vehicle.Decimal{Coefficient: int64(scale * 12345), Scale: uint8(scale)}
	})
)

func anyValue(t *rapid.T, c *Column, m protoreflect.Message, path fieldPath) {
	set := func(text string) {
		if bad := c.fill(m, path, text, ""); bad != nil {
			t.Fatalf("%s: %q: want %s", c.Name, text, bad.want)
		}
	}
	switch c.Kind {
	case Serial:
		set("AM0147P")
	case Word:
		set(anyWord.Draw(t, c.Name))
	case Date:
		set(vehicle.MustDate(2020, time.January, 1).AddDays(rapid.IntRange(-30000, 30000).Draw(t, c.Name)).String())
	case Stamp:
		at := time.Unix(rapid.Int64Range(-1e9, 4e9).Draw(t, c.Name), rapid.Int64Range(0, 999_999_999).Draw(t, "nanoseconds"))
		path.holder(m).Set(path.last(), message(timestamppb.New(at)))
	case Whole:
		set(fmt.Sprint(rapid.IntRange(1, 1<<31-1).Draw(t, c.Name)))
	case Number:
		set(anyDecimal.Draw(t, c.Name).String())
	case Measure:
		set(rapid.SampledFrom([]string{"", "-"}).Draw(t, "sign") + anyDecimal.Draw(t, c.Name).String() + " " + rapid.SampledFrom([]string{"mm", "N.m", "l", "°C", "%"}).Draw(t, "unit"))
	case Distance:
		set(anyDecimal.Draw(t, c.Name).String() + " " + rapid.SampledFrom([]string{"mi", "km"}).Draw(t, "unit"))
		if rapid.Bool().Draw(t, "computed") {
			set(fmt.Sprint(rapid.Int64Range(1, 1e15).Draw(t, c.Name), " mm"))
		}
	case Flag:
		set("yes")
	case Choice:
		set(rapid.SampledFrom(choices(path.last().Enum())).Draw(t, c.Name))
	case Choices:
		set(strings.Join(rapid.SliceOfNDistinct(rapid.SampledFrom(choices(path.last().Enum())), 1, -1, rapid.ID).Draw(t, c.Name), "; "))
	case Words:
		set(strings.Join(rapid.SliceOfN(anyWord, 1, 4).Draw(t, c.Name), "; "))
	case Pack:
		var shims []string
		for range rapid.IntRange(1, 3).Draw(t, c.Name) {
			text := anyDecimal.Draw(t, "thickness").String() + rapid.SampledFrom([]string{" mm", " thou", " in"}).Draw(t, "unit")
			shims = append(shims, text+rapid.SampledFrom([]string{"", " x1", " x12"}).Draw(t, "count")+rapid.SampledFrom([]string{"", " (AP-2074)"}).Draw(t, "part"))
		}
		set(strings.Join(shims, "; "))
	case Lines:
		list := path.holder(m).Mutable(path.last()).List()
		for _, line := range rapid.SliceOfN(anyLine, 1, 4).Draw(t, c.Name) {
			list.Append(protoreflect.ValueOfString(line))
		}
	default:
		path.holder(m).Set(path.last(), protoreflect.ValueOfString(anyText.Draw(t, c.Name)))
	}
}
