package main

// What is said of several parts.
const (
	ownIgnition   = "The distributor on the vehicle is not one of the specification: its small parts come from whoever supplied it, or the standard distributor is fitted again."
	drumOnly      = "With disc brakes in front there is no such part: it belongs to the drum brake."
	discOnly      = "With drum brakes in front there is no such part: it belongs to the disc brake."
	sealedForLife = "Sealed for life: order the propshaft."

	fireCaution = "Fire: no sparks, battery isolated."
	mixCaution  = "Never mix glycol and silicone fluids."
	holdCaution = "The brake on the transfer-case output does not hold with a driven wheel raised, a half shaft out or a propshaft off: chock the wheels."
	propCaution = "With the propshaft off the transmission brake holds nothing: chock the wheels."
	dustCaution = "Brake dust: no compressed air. Chocks before the wheels come off."
	ropeCaution = "Gloves, a damper on the rope, bystanders clear."
	onStands    = "Axle on stands, other wheels chocked: the transmission brake does not hold with a wheel jacked."
)
