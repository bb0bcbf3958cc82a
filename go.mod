module seatproof

go 1.26

require (
	github.com/alecthomas/kong v1.17.0
	github.com/pelletier/go-toml/v2 v2.4.3
	github.com/rogpeppe/go-internal v1.16.0
	gonum.org/v1/gonum v0.17.0
)

require (
	golang.org/x/sys v0.30.0 // indirect
	golang.org/x/tools v0.30.0 // indirect
)
