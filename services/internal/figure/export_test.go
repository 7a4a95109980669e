package figure

// These are open to tests.
var (
	Width      = width
	Spread     = spread
	MonthTicks = monthTicks
	Phrases    = map[string]map[string]string{"en": english, "de": german}
)

// NiceTicks gives the step and the values of an axis.
func NiceTicks(low, high float64, n int) (step float64, decimals int, values []float64) {
	t := niceTicks(span{low, high}, n)
	return t.step, t.decimals, t.values()
}

// Wholly is NiceTicks for what is counted.
func Wholly(low, high float64, n int) (step float64, values []float64) {
	t := wholeTicks(span{low, high}, n)
	return t.step, t.values()
}

// At maps a value from one range to another.
func At(low, high, from, to, v float64) float64 { return scale{span{low, high}, from, to}.at(v) }
