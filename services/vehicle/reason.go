package vehicle

// Reason says why something was decided: data first, a sentence second.
type Reason struct {
	Rule     string // the rule that decided, UPPER_SNAKE_CASE and stable: programs may branch on it
	Facts    []Fact // the numbers and names that it looked at, in the order of the sentence
	Record   string // resource name of the record that the facts come from, "" for none
	Sentence string // the reason in plain English, made from rule and facts
}

// Fact is one of the things a reason rests on.
type Fact struct {
	Name  string // lower_snake_case, stable
	Value string // for print, with its unit: "180 miles"
}

// String is the sentence.
func (r Reason) String() string { return r.Sentence }

// Fact gives the value of the first fact of that name, "" when there is none.
func (r Reason) Fact(name string) string {
	for _, f := range r.Facts {
		if f.Name == name {
			return f.Value
		}
	}
	return ""
}
