// Package drivetrain holds the arithmetic between engine, wheels and
// speedometer: how far a tyre rolls, how fast the vehicle goes at an engine
// speed, how far it truly went when the odometer shows a mile, and which drive
// gears would make a speedometer read as the law wants it.
//
// The speedometer of these vehicles is driven from the output of the transfer
// case. So the tyre, the axle ratio and the drive gears change what it shows;
// the gearbox and the high or low range do not.
package drivetrain
