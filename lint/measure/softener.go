package measure

import (
	"errors"

	"wetrule/lint/calc/water"
	"wetrule/lint/jobfile"
)

// softenerWeeks are the weeks of a year; daysPerWeek is the mean of the use over the week.
const (
	softenerWeeks = 52.0
	daysPerWeek   = 7.0
)

// softenerSubjects are the generators of the job, each with the treatment of its feed water.
func softenerSubjects(c *Context) []Subject {
	out := itemsOf("steam_generator")(c)
	for i := range out {
		out[i].Kind = "softener"
	}
	return out
}

// softenerOf limits a measure to generators with a softener.
func softenerOf(get func(*jobfile.Item) Value) func(*Context, *Subject) Value {
	return func(_ *Context, s *Subject) Value {
		switch {
		case s.Item.Softener == nil:
			return unknown()
		case !*s.Item.Softener:
			return none()
		}
		return get(s.Item)
	}
}

// softenerBlowDown is the water balance of a generator that makes 1 kg of steam. ok is false when the conductivities are
// not given; err says that the feed water is no better than the boiler water may be.
func softenerBlowDown(it *jobfile.Item) (b water.Boiling, ok bool, err error) {
	if it.ConductivityUSCM == nil || it.BoilerMaxUSCM == nil {
		return b, false, nil
	}
	b, err = water.BlowDown(1, *it.ConductivityUSCM, *it.BoilerMaxUSCM)
	return b, err == nil, err
}

const softenerNoBlowDown = "blow-down is not counted, as the conductivities are not given"

// softenerSteam is the water in m³ that leaves a generator as steam in a year at full power for all its hours.
func softenerSteam(it *jobfile.Item) (m3, perKWh float64, ok bool) {
	if it.PowerKW == nil || it.FeedTemperatureC == nil || it.SteamHPerWeek == nil {
		return 0, 0, false
	}
	perKWh, err := water.SteamKGPerKWh(*it.FeedTemperatureC)
	if err != nil {
		return 0, 0, false
	}
	return *it.PowerKW * perKWh * *it.SteamHPerWeek * softenerWeeks / 1000, perKWh, true
}

// softenerFeed is the water in m³ that a generator takes in a year: the steam and, when it can be told, the blow-down.
func softenerFeed(it *jobfile.Item) (feed float64, v Value) {
	steam, perKWh, ok := softenerSteam(it)
	if !ok {
		return 0, unknown()
	}
	b, with, err := softenerBlowDown(it)
	if err != nil {
		return 0, unknown().note(softenerWhy(err))
	}
	feed = steam
	note := "taken at full power for all hours; " + softenerNoBlowDown
	if with {
		feed, note = steam*b.FeedKGH, "taken at full power for all hours"
	}
	return feed, number(feed).explained(note, func() []string {
		steps := []string{said("steam = P · 3600/(h″ − h) · hours = %s kW · %.3f kg/kWh · %s h · 52 = %.3f m³ a year (IAPWS-IF97)", figure(*it.PowerKW), perKWh, figure(*it.SteamHPerWeek), steam)}
		if with {
			steps = append(steps, said("feed = steam · B/(B − F) = %.3f m³ · %s/(%s − %s) = %.3f m³ a year (UFC 3-240-13FN)", steam, figure(*it.BoilerMaxUSCM), figure(*it.BoilerMaxUSCM), figure(*it.ConductivityUSCM), feed))
		}
		return steps
	})
}

// softenerWhy says in plain words why a calculation has no result.
func softenerWhy(err error) string {
	if errors.Is(err, water.ErrNoBlowDown) {
		return "the feed water is not below the highest conductivity of the boiler"
	}
	return err.Error()
}

// softenerScale is the scale that the water of a year leaves when nothing takes its hardness out. What is blown down takes its share along.
func softenerScale(c *Context, s *Subject) Value {
	it := s.Item
	steam, _, ok := softenerSteam(it)
	if !ok || it.WaterHardnessMmolL == nil {
		return unknown()
	}
	kg, err := water.ScaleKG(steam, *it.WaterHardnessMmolL)
	if err != nil {
		return unknown().note(err.Error())
	}
	return c.explained(number(kg), "at the most: as if the whole hardness were carbonate, at full power for all hours", func() []string {
		return []string{said("scale = volume · hardness · 0.1001 kg/mol = %.3f m³ · %s mol/m³ · 0.1001 = %.3f kg CaCO3 a year, %.2f l of it (molar mass)", steam, figure(*it.WaterHardnessMmolL), kg, kg/water.ScaleDensityKGL)}
	})
}

func softenerRange(c *Context, s *Subject) Value {
	h := s.Item.WaterHardnessMmolL
	if h == nil {
		return unknown()
	}
	german, err := water.ClassWRMG(*h)
	if err != nil {
		return unknown().note(err.Error())
	}
	who, err := water.ClassWHO(*h)
	if err != nil {
		return unknown().note(err.Error())
	}
	return c.explained(text(string(german)), Words(string(who))+" by the WHO", func() []string {
		steps := []string{}
		for _, u := range []water.Unit{water.GermanDegree, water.FrenchDegree, water.EnglishDegree, water.GrainPerUSGallon, water.MgLCaCO3} {
			if v, err := water.Convert(*h, water.MmolL, u); err == nil {
				steps = append(steps, said("%s mmol/l = %.2f %s", figure(*h), v, u.String()))
			}
		}
		return steps
	})
}

func softenerGerman(_ *Context, s *Subject) Value {
	if s.Item.WaterHardnessMmolL == nil {
		return unknown()
	}
	d, err := water.Convert(*s.Item.WaterHardnessMmolL, water.MmolL, water.GermanDegree)
	if err != nil {
		return unknown().note(err.Error())
	}
	return number(d)
}

const softenerAssumed = "resin taken at 1 eq/l, with 20 % in reserve"

// softenerCapacityDays is after how many days of mean use the resin is down to its reserve.
func softenerCapacityDays(it *jobfile.Item) Value {
	m3, feed := softenerFeed(it)
	if feed.State != Known || it.SoftenerResinL == nil || it.WaterHardnessMmolL == nil {
		return unknown().note(feed.Note())
	}
	perDay := m3 / softenerWeeks / daysPerWeek
	resin := water.Softener{ResinL: *it.SoftenerResinL, CapacityEqL: water.OperatingCapacityEqL}
	days, err := resin.IntervalDays(*it.WaterHardnessMmolL, perDay, water.ReservePart)
	switch {
	case errors.Is(err, water.ErrNeverSpent):
		return none()
	case err != nil:
		return unknown().note(err.Error())
	}
	return number(days).explained(softenerAssumed+"; "+feed.Note(), func() []string {
		v, _ := resin.VolumeM3(*it.WaterHardnessMmolL)
		return append(feed.Steps(),
			said("volume = resin · eq/l ÷ (2 · hardness) = %s l · 1 eq/l ÷ (2 · %s mmol/l) = %.3f m³ (ion exchange balance)", figure(*it.SoftenerResinL), figure(*it.WaterHardnessMmolL), v),
			said("interval = volume · (1 − 0.2) ÷ water a day = %.3f m³ · 0.8 ÷ %.4f m³ = %.1f days", v, perDay, days))
	})
}

func softenerSalt(it *jobfile.Item) Value {
	if it.SoftenerResinL == nil {
		return unknown()
	}
	kg, err := water.Softener{ResinL: *it.SoftenerResinL, CapacityEqL: water.OperatingCapacityEqL}.SaltKG(water.SaltGPerEq[1])
	if err != nil {
		return unknown().note(err.Error())
	}
	return number(kg).note("at 200 g for each equivalent; 100 g do at the least, from memory")
}

func softenerCycles(c *Context, s *Subject) Value {
	f, b := s.Item.ConductivityUSCM, s.Item.BoilerMaxUSCM
	switch {
	case f == nil || b == nil:
		return unknown()
	case *f <= 0:
		return none() // nothing concentrates
	}
	return c.worked(number(*b / *f), func() []string {
		steps := []string{said("cycles = B ÷ F = %s ÷ %s µS/cm = %.2f", figure(*b), figure(*f), *b / *f)}
		if r, ok, _ := softenerBlowDown(s.Item); ok {
			steps = append(steps, said("blow-down = 1 ÷ cycles = %.1f %% of the feed water (UFC 3-240-13FN)", 100*r.BlowDownPart))
		}
		return steps
	})
}

var _ = register("softener", "the feed water of a steam generator and its softener", softenerSubjects,
	given(Flag, "fitted", "", "whether a softener is fitted", "softener", func(_ *Context, s *Subject) Value { return flag(s.Item.Softener) }),
	def(Text, "hardness_range", "", "range of the hardness of the water before any softener", "soft below 1.5 mmol/l, medium to 2.5, hard above", "WRMG § 9 (read)",
		[]string{"water_hardness_mmol_l"}, softenerRange).oneOf("soft", "medium", "hard"),
	def(Number, "hardness_dh", "°dH", "hardness of the water before any softener in German degrees", "mmol/l × 5.608", "definition of the degree (computed)",
		[]string{"water_hardness_mmol_l"}, softenerGerman),
	def(Number, "feed_water_m3_year", "m³", "water that the generator takes in a year", "power × steam per kWh × hours a week × 52, and the blow-down when the conductivities are given", "IAPWS-IF97; UFC 3-240-13FN (computed)",
		[]string{"steam_h_per_week", "power_kw", "feed_temperature_c"}, func(_ *Context, s *Subject) Value {
			_, v := softenerFeed(s.Item)
			return v
		}),
	def(Number, "scale_kg_year", "kg", "most scale that the water of a year leaves in the generator without a softener", "water made into steam × hardness × 0.1001 kg/mol", "molar mass of calcium carbonate (computed)",
		[]string{"steam_h_per_week", "water_hardness_mmol_l", "power_kw", "feed_temperature_c"}, softenerScale),
	given(Number, "regeneration_days", "days", "after how many days the softener is set to regenerate at the latest", "regeneration_days", softenerOf(func(it *jobfile.Item) Value { return num(it.RegenerationDays) })),
	def(Number, "capacity_days", "days", "days of mean use after which the resin is down to its reserve", "resin × 1 eq/l ÷ (2 × hardness) × 0.8 ÷ water a day; does not arise when no water flows or the water has no hardness", "ion exchange balance (computed)",
		[]string{"softener_resin_l", "water_hardness_mmol_l", "steam_h_per_week", "power_kw", "feed_temperature_c"}, softenerOf(softenerCapacityDays)),
	def(Number, "salt_kg_regeneration", "kg", "salt for one regeneration", "resin × 1 eq/l × 200 g", "trade practice (from memory)",
		[]string{"softener_resin_l"}, softenerOf(softenerSalt)),
	given(Text, "water_heating", "", "how the generator heats the water", "water_heating", func(_ *Context, s *Subject) Value { return text(s.Item.WaterHeating) }).oneOf("electrodes", "elements"),
	given(Number, "conductivity_us_cm", "µS/cm", "conductivity of the feed water", "conductivity_us_cm", func(_ *Context, s *Subject) Value { return num(s.Item.ConductivityUSCM) }),
	def(Number, "cycles", "", "how many times over the feed water may concentrate in the boiler", "highest conductivity of the boiler ÷ conductivity of the feed water; does not arise for feed water without any", "UFC 3-240-13FN (secondary)",
		[]string{"boiler_conductivity_max_us_cm", "conductivity_us_cm"}, softenerCycles),
)
