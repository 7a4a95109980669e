package typeset

// Figure is a drawing with its caption. It is not parted from it.
type Figure struct {
	Caption string
	Anchor  string
	Index   []string
	Changed bool
}
