package heating

// InsulationNeed is the least insulation resistance in MΩ and the test voltage in V DC of a circuit.
type InsulationNeed struct {
	MOhm      float64
	TestVolts float64
}

// InsulationFor returns what the verification of a circuit asks for. extraLow says that it is SELV or PELV; otherwise
// its nominal voltage in V (1e-6 to 1e9) decides: up to 500 V, FELV included, 500 V DC and 1 MΩ; above, 1000 V DC and 1 MΩ.
// SELV and PELV: 250 V DC and 0.5 MΩ.
//
// Source: IEC 60364-6:2016 Table 6.1 (read). The figures carry no correction for temperature.
func InsulationFor(extraLow bool, voltageV float64) (InsulationNeed, error) {
	if extraLow {
		return InsulationNeed{0.5, 250}, nil
	}
	if err := within("voltage in V", voltageV, small, large); err != nil {
		return InsulationNeed{}, err
	}
	if voltageV > 500 {
		return InsulationNeed{1, 1000}, nil
	}
	return InsulationNeed{1, 500}, nil
}

// GoodInsulationMOhm is what a sound new heating cable reads at least, in MΩ.
//
// Source: installation guides, at 500 V DC (secondary); others ask for 1 GΩ at 1000 V.
const GoodInsulationMOhm = 20.0

// Insulation is what a reading of the insulation shows.
type Insulation int

// What a reading shows, the worst first.
const (
	InsulationFailed   Insulation = iota // below what the circuit needs
	InsulationUnproven                   // high enough, but measured with too low a voltage
	InsulationLow                        // enough for the circuit, less than a sound new cable has
	InsulationSound
)

// JudgeInsulation holds a reading in MΩ (0 to 1e9), taken with a test voltage in V DC (0 to 1e9), against what the circuit needs.
// The temperature is not looked at.
//
// Source: IEC 60364-6:2016 Table 6.1 (read), [GoodInsulationMOhm] (secondary).
func JudgeInsulation(need InsulationNeed, readingMOhm, testVolts float64) (Insulation, error) {
	if err := within("insulation resistance in MΩ", readingMOhm, 0, large); err != nil {
		return InsulationFailed, err
	}
	if err := within("test voltage in V", testVolts, 0, large); err != nil {
		return InsulationFailed, err
	}
	switch {
	case readingMOhm < need.MOhm:
		return InsulationFailed, nil
	case testVolts < need.TestVolts:
		return InsulationUnproven, nil
	case readingMOhm < GoodInsulationMOhm:
		return InsulationLow, nil
	}
	return InsulationSound, nil
}
