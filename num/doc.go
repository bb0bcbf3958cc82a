// Package num is the numerical floor of the program: roots, quadrature,
// ordinary differential equations, least squares (also with figures that may not
// be below zero: [NNLS]), a monotone curve and a few
// distributions.
//
// Start with [Solve], which integrates a rig's equations and stops where an
// event says so, and [LeastSquares], which fits a model to data and says
// whether it may be believed. Both report what went wrong as an error that
// carries the figures; neither panics on what a person or a file sent.
//
// Nothing here knows about gases or leaks: figures are plain float64 and units
// are the caller's. Where a method has an absolute step or tolerance it is
// scaled by what the caller says the figures are of the size of, since leak
// areas are near 1e-9 m² and pressures near 1e5 Pa.
package num
