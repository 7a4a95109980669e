package ownerpages

import (
	"html/template"

	"halfshaft/services/internal/links"
)

// room is an entry of the navigation.
type room struct {
	Label string
	Path  template.URL
	Here  bool // the page that is shown
}

// The rooms of the pages, in the order of the navigation. On a telephone it lies
// at the foot, where the thumb is.
var theRooms = []struct {
	purpose links.Purpose
	label   string
}{
	{links.Schedule, "room.vehicle"}, {links.Odometer, "room.odometer"}, {links.History, "room.history"},
	{links.Handbook, "room.handbook"}, {links.People, "room.people"},
}

// rooms is the navigation for whoever pressed the link: none where the link
// leads nowhere.
func (v *visit) rooms() []room {
	var all []room
	for _, of := range theRooms {
		here := v.link.Purpose == of.purpose
		if l, ok := v.link.On(of.purpose, v.Clock()); ok {
			path := v.here("").Path
			if !here {
				path = v.pathOf(l)
			}
			all = append(all, room{Label: v.say(of.label), Path: path, Here: here})
		}
	}
	return all
}
