// Package engine says what a leak costs an engine: one cylinder, from intake
// closing to exhaust opening, crank angle by crank angle.
//
// Start with [Cylinder.Cycle], which solves one cycle with figures as they are,
// and with [Given], a cylinder as a person knows it, each figure with its ±:
// [Given.CostLimit] turns a share of the cranking pressure into the leak that
// costs it, [Given.Loss] says what a leak that was measured costs.
//
// A leak is stated as the vacuum test states it ([Leak]): free air at 50 kPa, the
// part of it that flows as an opening, the edge. The most that is taken for a leak is
// what the open valve passes, through a circle of the seat's diameter: its curtain
// there is not known, and passes less at a small lift. Everything is SI and absolute;
// angles are of the crankshaft, 0 at top dead centre. Laws, sources and guesses:
// docs/model.md, section 6.1.
package engine
