package trace

// invented is the vacuum [kPa] of the invented trace that every file in
// testdata/formats holds, ten samples a second: vented, pull, steady, hold, vent.
var invented = []float64{
	0.05, 0, 0, 0, 0, 0, 0.05, 0, 0, 0,
	27.3, 45.05, 56.6, 64.1, 68.95, 72.1, 74.2, 75.5, 76.4, 76.95,
	77.3, 77.55, 77.7, 77.8, 77.9, 77.9, 77.95, 77.95, 77.9, 77.9,
	77.9, 77.5, 77.1, 76.7, 76.3, 75.9, 75.5, 75.1, 74.7, 74.3,
	73.9, 73.5, 73.1, 72.7, 72.3, 71.9, 71.5, 71.1, 70.7, 70.3,
	69.9, 40, 8, 0.5, 0.05, 0, 0,
}
