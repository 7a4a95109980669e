package reminderwords

import (
	"strings"

	"halfshaft/services/reminder"
)

// campaign gives the letter about a safety campaign; nil for any other message.
func (w *writer) campaign() *reminder.Item {
	if len(w.work) == 0 || w.work[0].Item.Campaign == nil {
		return nil
	}
	return &w.work[0].Item
}

// campaignHeading gives the phrase of the heading of a letter about a campaign.
func campaignHeading(prefix string, c *reminder.Campaign) string {
	if c.StopUse {
		return prefix + "campaign-stop"
	}
	return prefix + "campaign"
}

// campaignOpening is the first paragraph: that it must not be driven stands
// before anything else.
func (w *writer) campaignOpening(c *reminder.Campaign) {
	if c.StopUse {
		w.put(Strong, w.say("campaign.stop", nil))
	}
	w.put(Text, w.say("opening.safety", nil))
	before := with{"date": w.locale.Date(c.Before)}
	if c.Wrong {
		w.put(Text, w.say("campaign.wrong", nil))
	}
	switch {
	case c.Before.IsZero():
	case c.Changed:
		w.put(Text, w.say("campaign.changed", before))
	case !c.Wrong:
		w.put(Text, w.say("campaign.again", before))
	}
}

// campaignBody says what is wrong, what can happen, what to do until it is put
// right, what can hurt, what the works does about it, and how to book that.
func (w *writer) campaignBody(i reminder.Item) {
	c := i.Campaign
	w.put(Section, w.ours(i.Title))
	w.putOwn(Block{Kind: Text}, "campaign.fault", "text", c.Fault)
	w.putOwn(Block{Kind: Text}, "campaign.consequence", "text", c.Consequence)
	w.putOwn(Block{Kind: Text}, "campaign.meanwhile", "text", c.Meanwhile)
	w.putOwn(Block{Kind: Caution, Mark: w.say("caution", nil)}, "", "", i.Caution)
	w.put(Section, w.say("campaign.remedy.title", nil))
	w.put(Strong, w.say("campaign.free", nil))
	w.remedy(i)
	w.put(Text, w.say("law-first", nil))
	w.put(Section, w.say("campaign.book.title", nil))
	w.put(Text, w.say(w.booking(), with{"phone": OneLine(w.Works.Phone)}))
	w.link(Link, "actions.schedule", w.Links.Schedule)
	w.put(Text, w.say("campaign.sold", nil))
	if c.Sample {
		w.put(Small, w.say("campaign.sample", nil))
	}
}

// remedy says what is done, how long it takes, and which parts go in. What can
// hurt at it stands beside it once, and not again what was said above.
func (w *writer) remedy(i reminder.Item) {
	minutes := 0
	var rows []string
	for _, r := range i.Campaign.Remedy {
		minutes += r.Minutes
		if title := w.ours(r.Title); title != "" {
			rows = append(rows, title)
		}
	}
	if len(rows) > 0 {
		w.put(Text, w.say("campaign.remedy.done", nil))
		w.list(rows)
	}
	if minutes > 0 {
		w.put(Text, w.say("campaign.remedy.minutes", with{"minutes": w.locale.Number(int64(minutes))}))
	}
	if parts := w.Parts[i.Cycle]; len(parts) > 0 {
		w.put(Text, w.say("campaign.remedy.parts", nil))
		rows = nil
		for _, p := range parts {
			rows = append(rows, w.part(p))
		}
		w.list(rows)
	}
	seen := map[string]bool{OneLine(i.Caution): true, "": true}
	for _, r := range i.Campaign.Remedy {
		if caution := OneLine(r.Caution); !seen[caution] {
			seen[caution] = true
			w.putOwn(Block{Kind: Caution, Mark: w.say("caution", nil)}, "", "", caution)
		}
	}
}

// booking is the phrase that says how a day is agreed.
func (w *writer) booking() string {
	key := "campaign.book.reply"
	if w.paper {
		key = "campaign.book.post"
	}
	if OneLine(w.Works.Phone) != "" {
		key += "-phone"
	}
	return key
}

// campaignAnswers are the lines on paper to answer a letter about a campaign.
func (w *writer) campaignAnswers() []string {
	return []string{w.say("answer.days", nil), w.say("answer.done", nil), w.say("answer.sold", nil)}
}

// campaignText is a text message about a campaign: that it must not be driven,
// what is wrong, what to do until then, what can hurt, that it costs nothing, and
// whom to ring. What is wrong gives way first where it becomes long: the title
// names it.
func (w *writer) campaignText(i reminder.Item, most int) string {
	parts := []string{w.heading("text.", most)}
	if text := w.ours(i.Campaign.Fault); text != "" && most > 0 {
		parts = append(parts, text)
	}
	if text := w.ours(i.Campaign.Meanwhile); text != "" {
		parts = append(parts, w.say("text.meanwhile", with{"text": text}))
	}
	if text := w.ours(i.Caution); text != "" {
		parts = append(parts, w.say("caution", nil)+" "+text)
	}
	parts = append(parts, w.say("text.free", nil))
	if phone := OneLine(w.Works.Phone); phone != "" {
		parts = append(parts, w.say("text.phone", with{"phone": phone}))
	}
	if link := w.oneLink(); link != "" {
		parts = append(parts, link)
	}
	return strings.Join(parts, " ")
}
