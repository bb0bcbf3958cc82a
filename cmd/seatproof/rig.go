package main

// rigCmd holds the commands about the rig itself, one file each.
type rigCmd struct {
	Choose rigChooseCmd `cmd:"" help:"Choose pump, gauge and hose that can tell a good seat from a bad one."`
	Check  rigCheckCmd  `cmd:"" help:"Check the rig on the day: blank, known leak, gauge, volume, pump."`
	Card   rigCardCmd   `cmd:"" help:"Print the card for the wall: what each kind of port must read and may lose."`
}
