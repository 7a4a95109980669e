// Package typeset turns a document of blocks into a PDF to print and the same
// document into one page of HTML. The handbook and the job sheet are such
// documents; letters share its fonts, its check of characters and its breaking
// of lines.
//
// A document is plain values (Document, Block, Run). PDF sets them on paper:
// lines are broken for the whole paragraph at once, pages so that no line of a
// paragraph stands alone, no heading ends a page, no row or caution is parted.
// The same document gives the same bytes. HTML gives the same words with
// headings, lists and tables that a screen reader can follow, and no style or
// script of its own: StyleSheet is served beside it.
package typeset
