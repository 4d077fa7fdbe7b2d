package air

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// crossCheck takes rows of [temperature, humidity, wet bulb, pressure] and answers with what an independent library says of them.
const crossCheck = `
const p = require(process.argv[1]);
p.SetUnitSystem(p.SI);
const rows = JSON.parse(require("fs").readFileSync(0, "utf8"));
process.stdout.write(JSON.stringify(rows.map(([t, h, wet, pa]) => {
  const w = p.GetHumRatioFromRelHum(t, h / 100, pa);
  return {
    saturation: p.GetSatVapPres(t), vapour: p.GetVapPresFromRelHum(t, h / 100), ratio: w, dew: p.GetTDewPointFromRelHum(t, h / 100),
    enthalpy: p.GetMoistAirEnthalpy(t, w) / 1000, volume: p.GetMoistAirVolume(t, w, pa), density: p.GetMoistAirDensity(t, w, pa),
    humidity: 100 * p.GetRelHumFromHumRatio(t, w, pa), pressureOfRatio: p.GetVapPresFromHumRatio(w, pa),
    wetRatio: wet > t ? 0 : p.GetHumRatioFromTWetBulb(t, wet, pa), altitude: p.GetStandardAtmPressure(t * 30),
  };
})));`

// TestAgainstIndependentLibrary holds moist air against psychrolib, whose folder WETRULE_PSYCHROLIB names. It is run by node.
func TestAgainstIndependentLibrary(t *testing.T) {
	dir := os.Getenv("WETRULE_PSYCHROLIB")
	if dir == "" {
		const why = "NOT CROSS-CHECKED: WETRULE_PSYCHROLIB does not name the folder of psychrolib"
		if os.Getenv("WETRULE_NO_SKIP") == "1" {
			t.Fatal(why)
		}
		t.Skip(why)
	}
	var rows [][4]float64
	for _, pa := range []float64{101325, 89875, 70000} {
		for c := -40.0; c <= 65; c += 2.5 {
			for _, h := range []float64{1, 20, 50, 80, 95, 100} {
				rows = append(rows, [4]float64{c, h, max(0, c) * 0.7, pa})
			}
		}
	}
	in, err := json.Marshal(rows)
	require.NoError(t, err)
	cmd := exec.Command("node", "-e", crossCheck, dir)
	var stderr strings.Builder
	cmd.Stdin, cmd.Stderr = bytes.NewReader(in), &stderr
	out, err := cmd.Output()
	require.NoError(t, err, stderr.String())
	var answers []struct{ Saturation, Vapour, Ratio, Dew, Enthalpy, Volume, Density, Humidity, PressureOfRatio, WetRatio, Altitude float64 }
	require.NoError(t, json.Unmarshal(out, &answers))
	require.Len(t, answers, len(rows))
	for i, r := range rows {
		c, h, wet, pa, want := r[0], r[1], r[2], r[3], answers[i]
		p := value(t)(VapourPressure(ASHRAE, c, h))
		w := value(t)(HumidityRatio(p, pa))
		require.InEpsilon(t, want.Saturation, value(t)(ASHRAE.Saturation(c)), 1e-9, "%v", r)
		require.InEpsilon(t, want.Vapour, p, 1e-9, "%v", r)
		require.InEpsilon(t, want.Ratio, w, 1e-9, "%v", r)
		require.InDelta(t, want.Dew, value(t)(DewPoint(ASHRAE, c, h)), 0.002, "%v", r) // the library stops at 0.001 K
		require.InDelta(t, want.Enthalpy, value(t)(Enthalpy(c, w)), 1e-9, "%v", r)
		require.InEpsilon(t, want.Volume, value(t)(SpecificVolume(c, w, pa)), 1e-9, "%v", r)
		require.InEpsilon(t, want.Density, value(t)(Density(c, w, pa)), 1e-9, "%v", r)
		require.InEpsilon(t, want.Humidity, value(t)(RelativeHumidity(ASHRAE, c, value(t)(VapourPressureOfRatio(w, pa)))), 1e-9, "%v", r)
		require.InEpsilon(t, want.PressureOfRatio, value(t)(VapourPressureOfRatio(w, pa)), 1e-9, "%v", r)
		if c > 0 && wet > 0 && want.WetRatio > 1e-6 { // the library gives at least 1e-7
			require.InEpsilon(t, want.WetRatio, value(t)(HumidityRatioOfWetBulb(c, wet, pa)), 1e-6, "%v", r)
		}
		if alt := c * 30; alt >= -500 {
			require.InEpsilon(t, want.Altitude, value(t)(PressureAtAltitude(alt)), 1e-9, "%v", r)
		}
	}
}
