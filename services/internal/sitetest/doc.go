// Package sitetest looks at every page of the desk and of the owner pages over
// the demo works, in a browser as people have it: whether axe finds a fault,
// whether it fits, whether anything comes from somewhere else, what it weighs and
// how long it takes. `make screens` takes pictures of them all.
//
// Each page is looked at with other amounts, too: a connection to the services
// (stretch_test.go) cuts their lists, repeats them or draws names out.
//
// It is tests and nothing else. Whoever adds a page gives it a row in
// desklist_test.go or ownerlist_test.go: a page without one fails a test.
package sitetest
