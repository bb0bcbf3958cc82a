// Package rigfile reads and writes the rig file: a TOML text that says what a
// vacuum rig is made of, with a unit at every figure.
//
// [Read] turns a rig file into a rig.Rig and names every fault it finds with
// line and column; [Write] makes a file of a rig that reads back the same. All
// keys may be left out; what is left out stays not Known. The keys stand in
// the table in fields.go, which reader, writer and messages share.
//
//	name = "small rig"
//	volume = "62 ± 3 cm3"
//	[pump]
//	free_flow = "10 L/min"
//	blanked = "78 ± 2 kPa"
//
// Figures smelling of a slip (a volume of litres, a vacuum deeper than the
// air pressure) are refused with a question, and never mended.
package rigfile
