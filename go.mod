module halfshaft

go 1.26
