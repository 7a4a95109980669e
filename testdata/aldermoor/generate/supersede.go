package main

import (
	"fmt"
	"maps"
)

var supersessionColumns = []string{"id", "old part", "also old parts", "new parts", "effective date", "two way", "releases", "together with", "old stock", "text"}

// supersessions replace small parts one by one, and tell the hard cases.
func (w *works) supersessions() {
	for i, a := range assemblies {
		old := a.number(a.revised)
		w.second(old)
		w.replace(cells{"old part": old, "new parts": old + "A x1", "effective date": fmt.Sprintf("%d-03-01", 2013+i%10), "two way": yes(i%3 == 0), "text": a.text})
	}
	for _, c := range replacements {
		w.stock.part(c)
	}
	for _, c := range hardCases {
		w.replace(c)
	}
	for _, r := range revisions {
		w.second(r.old)
		w.replace(cells{"old part": r.old, "new parts": r.old + "A x1", "effective date": r.date, "two way": yes(r.twoWay), "old stock": r.stock, "text": r.text})
	}
}

// replace writes one supersession under the next number.
func (w *works) replace(c cells) {
	n := 0
	if t := w.tables["supersessions"]; t != nil {
		n = len(t.rows)
	}
	row := maps.Clone(c)
	row["id"] = fmt.Sprintf("S%03d", n+1)
	w.add("supersessions", row, supersessionColumns...)
}

// second makes the second pattern of a part, which stands where the first does.
func (w *works) second(old string) {
	c := maps.Clone(w.stock.get(old))
	delete(c, "other numbers")
	c["part"], c["title"], c["status"], c["drawing"] = old+"A", c["title"]+", second pattern", "orderable", ""
	w.stock.part(c)
	for _, position := range w.stock.positions[old] {
		w.stock.at(old+"A", position)
	}
}
