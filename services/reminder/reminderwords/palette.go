package reminderwords

// palette are the colours of a mail, as CSS writes them.
type palette struct {
	Page, Ink        string // paper and words
	Quiet            string // words at the foot
	Line             string // between sections
	Vehicle          string // bar beside the vehicle
	Warning          string // bar beside a caution
	Link             string
	Button, OnButton string
}

// Each pair of words and ground has at least the contrast of WCAG 2.2 success
// criterion 1.4.3, and each bar that of 1.4.11.
var (
	light = palette{
		Page: "#ffffff", Ink: "#1f2421", Quiet: "#4c554f", Line: "#b9c2bc", Vehicle: "#3d6b4f",
		Warning: "#a4461c", Link: "#2f5d43", Button: "#2f5d43", OnButton: "#ffffff",
	}
	dark = palette{
		Page: "#171a18", Ink: "#e6eae7", Quiet: "#b4bdb7", Line: "#4a524d", Vehicle: "#7fb894",
		Warning: "#e08a5b", Link: "#9fd3b3", Button: "#9fd3b3", OnButton: "#10241a",
	}
)
