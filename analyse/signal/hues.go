package signal

import "math"

// hueApart, degrees, parts two hues: less than half of the least distance between two colours of colour bars, 43.6.
const hueApart = 20.0

// farTurn, degrees: turns beyond it are not meant, for half a turn puts every colour of bars on its complement.
const farTurn = 90.0

// apart is one angle less another, from -180 to 180 degrees.
func apart(a, b float64) float64 { return math.Mod(a-b+540, 360) - 180 }
