package maturity

import "fmt"

// Product is a kind of product by the way it cures.
type Product uint8

// The kinds of products.
const (
	Cement       Product = iota // tile cement, grout, cement coats and slurries
	Resin                       // epoxy and other reaction resins of two parts
	Polyurethane                // adhesive and foam; foam is wetted, so that the site's humidity is not counted
	Film                        // water-based dispersions, which dry
	Sealant                     // silicone and other sealants that cure with the moisture of the air
)

var products = []string{"cement", "resin", "polyurethane", "film", "sealant"}

// String names the kind.
func (p Product) String() string {
	if int(p) >= len(products) {
		return fmt.Sprintf("product %d", uint8(p))
	}
	return products[p]
}

// Products lists the names of the kinds in order.
func Products() []string { return append([]string(nil), products...) }

// ParseProduct reads a name.
func ParseProduct(name string) (Product, bool) {
	for i, n := range products {
		if n == name {
			return Product(i), true
		}
	}
	return 0, false
}

// NeedsHumidity says whether the humidity of the air counts for the kind.
func (p Product) NeedsHumidity() bool { return p == Film || p == Sealant }

// The bounds of what is credited.
//
// Source: common practice; cement hardly hydrates below 5 °C (trade). That no more than 30 °C is credited is this package's own caution.
const (
	NoProgressBelowC = 5.0
	NoCreditAboveC   = 30.0
	// DataSheetPercent is the relative humidity at which data sheets give their times (ISO 13007-2, 3.2, secondary).
	DataSheetPercent = 50.0
	// DataSheetC is the temperature at which data sheets give their times (ISO 13007-2, 3.2: 23 ± 2 °C, secondary).
	DataSheetC = 23.0
)

// FormulaRate is the rate by which a kind cures, as a part of the rate on its data sheet at referenceC and 50 %:
// cement, resin and polyurethane by [Q10Rate] below the reference and by [ArrheniusRate] of 33.5 kJ/mol above it; films by [DryingRate]; sealants by
// [MoistureCureRate]. Below 5 °C it is nought, and above 30 °C it is that of 30 °C. The reference lies from 5 to 30 °C.
//
// Source: worked out from the models (computed); none is calibrated for a product.
func FormulaRate(p Product, referenceC float64) Rate {
	return func(c, percent float64) (float64, error) {
		if err := temperatures(c); err != nil {
			return 0, err
		}
		if err := inRange("reference temperature in °C", referenceC, NoProgressBelowC, NoCreditAboveC); err != nil {
			return 0, err
		}
		if p.NeedsHumidity() {
			if err := humidity(percent); err != nil {
				return 0, err
			}
		}
		if c < NoProgressBelowC {
			return 0, nil
		}
		c = min(c, NoCreditAboveC)
		switch p {
		case Cement, Resin, Polyurethane:
			if c <= referenceC {
				return Q10Rate(referenceC)(c, percent)
			}
			return ArrheniusRate(ActivationKJMol, referenceC)(c, percent)
		case Film:
			return DryingRate(referenceC, DataSheetPercent)(c, percent)
		case Sealant:
			return MoistureCureRate(referenceC, DataSheetPercent)(c, percent)
		}
		return 0, fmt.Errorf("%w: there is no %s", ErrRange, p)
	}
}

// CautiousRate is [FormulaRate], but never above one: where the formula is quicker than the data sheet, the data sheet holds.
func CautiousRate(p Product, referenceC float64) Rate {
	formula := FormulaRate(p, referenceC)
	return func(c, percent float64) (float64, error) {
		r, err := formula(c, percent)
		return min(r, 1), err
	}
}

// CureTime gives the hours that a product takes on site for what its data sheet gives as hours at referenceC: the longer of formula and data sheet.
// Below 5 °C, for films in saturated air and for sealants in dry air it gives [ErrNoProgress]. The humidity counts only where [Product.NeedsHumidity].
//
// Source: see [FormulaRate]; an estimate, never an approval.
func CureTime(p Product, dataSheetH, referenceC, siteC, sitePercent float64) (float64, error) {
	return TimeH(dataSheetH, siteC, sitePercent, CautiousRate(p, referenceC))
}

// TimeOverH is [TimeH] for conditions that change: the hours that a material takes over the steps of a profile, one after the other. The last step lasts as long
// as it takes. Where the rate of the last step is nought and what comes before does not suffice, it is [ErrNoProgress].
func TimeOverH(hoursAtReference float64, profile []Step, rate Rate) (float64, error) {
	if err := inRange("hours", hoursAtReference, 0, MaxHours); err != nil {
		return 0, err
	}
	if len(profile) == 0 {
		return 0, fmt.Errorf("%w: a profile without steps", ErrRange)
	}
	took, left := 0.0, hoursAtReference
	for i, s := range profile[:len(profile)-1] {
		if err := inRange("hours", s.Hours, 0, MaxHours); err != nil {
			return 0, fmt.Errorf("step %d: %w", i+1, err)
		}
		r, err := rate(s.TemperatureC, s.HumidityPercent)
		if err != nil {
			return 0, fmt.Errorf("step %d: %w", i+1, err)
		}
		if r*s.Hours >= left {
			if left == 0 {
				return took, nil
			}
			return took + left/r, nil
		}
		took, left = took+s.Hours, left-r*s.Hours
	}
	last := profile[len(profile)-1]
	h, err := TimeH(left, last.TemperatureC, last.HumidityPercent, rate)
	return took + h, err
}
