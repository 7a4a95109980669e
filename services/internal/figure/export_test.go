package figure

// Width is open to tests.
var Width = width
