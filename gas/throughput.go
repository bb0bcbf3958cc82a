package gas

// GasConstant is the molar gas constant [J/(mol K)] (exact since the SI of 2019).
const GasConstant = 8.314462618

// MolarMass is the molar mass [kg/mol] of dry air (ISO 2533:1975).
const MolarMass = 28.964420e-3

// Reference states that flows are said to be "standard" at; which one must
// always be printed, they differ by up to 9 %.
const (
	NormalTemperature = 273.15   // K; with 101325 Pa: "sccm" as vacuum technique uses it
	Atmosphere        = 101325.0 // Pa
)

// Throughput returns the flow mdot [kg/s] as leak detection states it [Pa
// m³/s], for gas measured at t [K]: mdot R t. Without its temperature a
// throughput is not a leak rate: 0 or 20 °C is a difference of 7 %.
func Throughput(mdot, t float64) float64 { return mdot * R * t }

// Moles returns the molar flow [mol/s] of a throughput [Pa m³/s] of gas at t
// [K]: Q/(Ru t).
func Moles(throughput, t float64) float64 { return throughput / (GasConstant * t) }

// MolesThroughput returns the throughput [Pa m³/s] at t [K] of a molar flow
// [mol/s]: the inverse of [Moles].
func MolesThroughput(moles, t float64) float64 { return moles * GasConstant * t }

// VolumeAt returns the volume flow [m³/s] at p [Pa], t [K] of a throughput
// [Pa m³/s] stated for gas at tq [K].
func VolumeAt(throughput, tq, p, t float64) float64 { return throughput * t / tq / p }

// ANR returns the volume flow [m³/s] of the mass flow mdot [kg/s] in the
// standard reference atmosphere of ISO 8778 (20 °C, 100 kPa, 65 % humidity).
func ANR(mdot float64) float64 { return mdot / ANRDensity }
