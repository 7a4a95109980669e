package works

// LoadCover enters the demo's warranty terms, and LoadBulletins its bulletins.
var (
	LoadCover     = loadCover
	LoadBulletins = loadBulletins
)
