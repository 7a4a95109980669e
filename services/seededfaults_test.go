//go:build faults

package services_test

// seededFaults are what a tired colleague or an attacker among them might do to
// access, privacy and audit.
var seededFaults = []seeded{
	{
		name: "nobody asks whose vehicle it is",
		file: "services/access/accessgate/rules.go",
		old:  "	if !has(serial) {\n",
		new:  "	if false {\n",
		pkg:  "./services/access/accessgate", run: "TestEveryMethodAsEveryRole",
	},
}
