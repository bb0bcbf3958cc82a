package unit

// Pressure is an absolute pressure [Pa]. It is not a Vacuum: going across
// needs the air pressure of the room.
type Pressure float64

// Vacuum is how far a pressure lies below the room's own [Pa], a positive
// figure under the room and a negative one above it.
type Vacuum float64

// Below returns the vacuum that the absolute pressure p is in a room at air
// pressure room.
func (p Pressure) Below(room Pressure) Vacuum { return Vacuum(room - p) }

// In returns the absolute pressure that the vacuum v is in a room at air
// pressure room.
func (v Vacuum) In(room Pressure) Pressure { return room - Pressure(v) }
