package measure

import (
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"wetrule/lint/calc/geometry"
)

func TestNumbersHaveTheDigitsOfStrconv(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for _, v := range []float64{
			rapid.Float64().Draw(t, "any"),
			float64(rapid.Int64Range(-1e15, 1e15).Draw(t, "thousandths")) / 1000,
			rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 1e11, 99999999999.999, -0.001, 0.0005, 1 << 53, math.Inf(1), math.NaN(), 5e-324}).Draw(t, "edge"),
		} {
			require.Equal(t, strconv.FormatFloat(geometry.RoundMM(v), 'f', -1, 64), FormatNumber(v))
			if b, ok := AppendThousandths([]byte("x"), v); ok {
				require.Equal(t, "x"+strconv.FormatFloat(v+0, 'f', -1, 64), string(b)) // + 0 makes of minus zero zero
			} else {
				require.Equal(t, "x", string(b))
			}
		}
	})
}
