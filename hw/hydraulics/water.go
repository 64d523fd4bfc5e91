package hydraulics

// ViscosityAt20 is the kinematic viscosity of water at 20 °C and one atmosphere
// by IAPWS, for the solution, whose temperature is not known beforehand.
const ViscosityAt20 SquareMetresPerSecond = 1.0034e-6
