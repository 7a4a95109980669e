package figure

import (
	"html"
	"html/template"
	"strings"
)

// Block writes a figure as a page shows it: with its title above it, for narrow
// and for wide pages, of which Stylesheet shows one, and with its table below
// it, which a reader opens and which paper has always. Draw is called once for
// each layout. The id is as for Figure.SVG.
func Block(id string, r Reader, draw func(Layout) Figure) template.HTML {
	narrow, wide := draw(Narrow), draw(Wide)
	var b strings.Builder
	b.WriteString(`<figure class="figure" id="` + id + `"><figcaption>` + html.EscapeString(wide.Title) + `</figcaption>`)
	b.WriteString(string(narrow.svg(id+"-n", "narrow")) + string(wide.svg(id+"-w", "wide")))
	if len(wide.Table.Rows) > 0 {
		b.WriteString(`<details><summary>` + html.EscapeString(r.say("table", nil)) + `</summary>`)
		b.WriteString(`<p>` + html.EscapeString(strings.Join(wide.Description, " ")) + `</p>`)
		b.WriteString(string(wide.Table.HTML()) + `</details>`)
	}
	b.WriteString(`</figure>`)
	return template.HTML(b.String()) // texts are escaped
}

// HTML writes a table. A cell names its head, for pages too narrow for columns.
func (t Table) HTML() template.HTML {
	if len(t.Rows) == 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString(`<table><caption>` + html.EscapeString(t.Caption) + `</caption><thead><tr>`)
	for _, h := range t.Heads {
		b.WriteString(`<th scope="col">` + html.EscapeString(h) + `</th>`)
	}
	b.WriteString(`</tr></thead><tbody>`)
	for _, row := range t.Rows {
		b.WriteString(`<tr>`)
		for i, cell := range row {
			b.WriteString(`<td data-head="` + html.EscapeString(t.Heads[i]) + `">` + html.EscapeString(cell) + `</td>`)
		}
		b.WriteString(`</tr>`)
	}
	b.WriteString(`</tbody></table>`)
	return template.HTML(b.String()) // texts are escaped
}

// Stylesheet is what a page with figures adds to its own. It shows the layout
// that suits the room that the figure has, not the page; on paper it is ink on
// white, with the table.
const Stylesheet = `.figure { container-type: inline-size; margin: 0 0 1.25rem; color: var(--ink); }
.figure figcaption { font-weight: 600; margin-bottom: .5rem; }
.figure svg { display: block; width: 100%; height: auto; font-family: system-ui, sans-serif; font-variant-numeric: tabular-nums; background: var(--sheet, transparent); }
.figure .narrow { max-width: 26rem; }
.figure .wide { max-width: 60rem; display: none; }
.figure summary { padding: .5rem 0; color: var(--act); cursor: pointer; }
@container (min-width: 38rem) { .figure .narrow { display: none; } .figure .wide { display: block; } }
@media print {
  .figure { --ink: #000; --quiet: #333; --line: #aaa; --sheet: #fff; color: #000; }
  .figure figcaption { break-after: avoid; }
  .figure svg, .figure tr { break-inside: avoid; }
  .figure summary { display: none; }
  .figure details::details-content { display: block; content-visibility: visible; }
}
`
