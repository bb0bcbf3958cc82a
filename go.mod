module seatproof

go 1.26
