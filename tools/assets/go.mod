module seatproof/tools/assets

go 1.26.0

require github.com/evanw/esbuild v0.28.2 // indirect
