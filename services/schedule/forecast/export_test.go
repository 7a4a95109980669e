package forecast

// Civil is for tests.
var Civil = civil
