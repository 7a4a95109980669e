package enquiry

import "strings"

// word is a word as it was said, with what it is compared by.
type word struct {
	said    string
	concept string // the stem, or the name of the words of the trade that mean the same
}

// wordsOf gives the words of a text that say something, in order and each
// concept once.
func wordsOf(texts ...string) []word {
	var out []word
	seen := map[string]bool{}
	for _, text := range texts {
		for _, said := range joined(spoken(text)) {
			if len(said) < 2 || silent[said] {
				continue
			}
			if c := conceptOf(said); c != "" && !seen[c] {
				seen[c] = true
				out = append(out, word{said, c})
			}
		}
	}
	return out
}

// conceptOf gives what a word is compared by: that of its synonyms, or its stem.
func conceptOf(said string) string {
	if first, second, two := strings.Cut(said, " "); two {
		said = stemOf(first) + second
	}
	said = plain(said)
	if c, ok := synonyms[said]; ok {
		return c
	}
	stem := stemOf(said)
	if c, ok := synonyms[stem]; ok {
		return c
	}
	return stem
}

// stemOf takes the endings off an English word that say number and time. It is
// simple on purpose: two words that differ by more are told to be the same by
// the synonyms of the trade, which somebody can read.
func stemOf(w string) string {
	if one, ok := strings.CutSuffix(w, "s"); ok && strings.HasSuffix(one, "ing") {
		w = one // bearings
	}
	for _, ending := range []string{"ing", "ies", "ed", "es", "s"} {
		stem, ok := strings.CutSuffix(w, ending)
		if !ok || len(stem) < 3 {
			continue
		}
		switch {
		case ending == "ies":
			return stem + "y"
		case ending == "es" && !hisses(stem):
			continue // tyres: only the s
		case ending == "s" && (strings.HasSuffix(stem, "s") || strings.HasSuffix(stem, "u")):
			return w // brass, bus
		case (ending == "ing" || ending == "ed") && !strings.ContainsAny(stem, "aeiouy"):
			return w
		case ending == "ing" || ending == "ed":
			return single(stem)
		}
		return strings.TrimSuffix(stem, "e")
	}
	return strings.TrimSuffix(w, "e")
}

// hisses reports whether a plural of the stem is made with es.
func hisses(stem string) bool {
	for _, end := range []string{"s", "x", "z", "ch", "sh"} {
		if strings.HasSuffix(stem, end) {
			return true
		}
	}
	return false
}

// single takes back the doubling before an ending: dripp is drip, but press
// stays.
func single(stem string) string {
	n := len(stem)
	if n > 3 && stem[n-1] == stem[n-2] && !strings.ContainsRune("lsz", rune(stem[n-1])) {
		return stem[:n-1]
	}
	return strings.TrimSuffix(stem, "e")
}

// silent are words that say nothing about a vehicle.
var silent = setOf(`a about after again all also am an and any are as at be because been before being but by can could
	did do does doing for from get gets getting give got had has have he her here him his how i if in is it its just know
	like ll many may me might more much my no not now of off on one or our out over please said say says shall she should
	so some somebody something still tell than that the their them then there these they thing this those to too up us
	ve very want was we were what when where which who why will with would you your vehicle car mine
	wont cant cannot dont doesnt didnt isnt arent wasnt werent hasnt havent hadnt wouldnt couldnt shouldnt im ive`)

func setOf(words string) map[string]bool {
	out := map[string]bool{}
	for w := range strings.FieldsSeq(words) {
		out[w] = true
	}
	return out
}

// trade are words that mean the same to who asks and who answers, the first
// naming them: common practice, no source.
var trade = []string{
	"leak weep drip seep ooze leakage leaky wet puddle stain drop",
	"noise sound rattle clatter",
	"knock clonk clunk thump bang",
	"whine howl hum moan sing",
	"start starting crank turnover nonstart starter startup",
	"winter cold frost storage laid layup laidup season",
	"oil lubricant lube",
	"coolant antifreeze",
	"hot overheat boil temperature overheating",
	"speedometer speedo",
	"odometer mileage mileometer",
	"tyre tire",
	"warranty guarantee guaranteed claim",
	"due service interval overdue servicing",
	"near nearest nearby local",
	"workshop garage dealer mechanic specialist",
	"sell selling sold sale buyer transfer owner ownership buy",
	"campaign recall bulletin",
	"handbook manual book booklet",
	"brake brakes braking",
	"shake shimmy wobble vibrate vibration judder shudder",
	"smoke smoky fume fumes",
	"battery flat charge",
	"gear gearbox shift gearchange",
	"axle diff differential",
	"float play slack clearance backlash endfloat",
	"measure measured measurement gauge micrometer",
	"petrol fuel gasoline",
	"pressure psi inflate inflation",
	"rust corrosion corrode salt beach",
	"lost lose missing mislaid",
	"steer steering wander",
	"fast overread high",
	"leaf leaves",
	"wear worn wore",
	"break broke broken snap",
	"stick stuck seize jam",
	"carburettor carburetor carburetter carburator carb",
	"colour color",
	"grey gray",
	"centre center",
	"aluminium aluminum",
}

// synonyms gives the concept of each word of the trade.
var synonyms = func() map[string]string {
	out := map[string]string{}
	for _, group := range trade {
		words := strings.Fields(group)
		for _, w := range words {
			out[w] = words[0]
			if s := stemOf(w); out[s] == "" {
				out[s] = words[0]
			}
		}
	}
	return out
}()
