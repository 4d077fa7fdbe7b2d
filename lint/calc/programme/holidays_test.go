package programme

import (
	"strings"
	"testing"
	"time"

	"github.com/rickar/cal/v2"
	"github.com/stretchr/testify/require"
)

// Computed with Meeus's and Butcher's algorithm; checked against one written out here.
func TestEaster(t *testing.T) {
	for year, want := range map[int]string{2024: "2024-03-31", 2025: "2025-04-20", 2026: "2026-04-05", 2027: "2027-03-28", 2028: "2028-04-16",
		2029: "2029-04-01", 2030: "2030-04-21", 2038: "2038-04-25"} {
		require.Equal(t, want, Easter(year).String())
	}
	// Easter is the Sunday after the first ecclesiastical full moon on or after 21 March: golden number and epact.
	for year := 1971; year <= 2199; year++ {
		golden := year%19 + 1
		century := year/100 + 1
		x, z := 3*century/4-12, (8*century+5)/25-5
		sunday := 5*year/4 - x - 10
		epact := ((11*golden+20+z-x)%30 + 30) % 30
		if epact == 25 && golden > 11 || epact == 24 {
			epact++
		}
		moon := 44 - epact
		if moon < 21 {
			moon += 30
		}
		day := moon + 7 - (sunday+moon)%7
		require.Equal(t, Date{year, time.March, 1}.AddDays(day-1), Easter(year))
	}
}

func TestPublicHolidays(t *testing.T) {
	for _, row := range []struct {
		country, region, date string
		free                  bool
	}{
		{"GB", "", "2026-05-04", true}, {"GB", "", "2026-04-06", true}, {"GB", "SCT", "2026-04-06", false},
		{"GB", "SCT", "2026-08-03", true}, {"GB", "SCT", "2026-08-31", false}, {"GB", "ENG", "2026-08-31", true},
		{"GB", "SCT", "2026-11-30", true}, {"GB", "SCT", "2026-01-02", true}, {"GB", "Scotland", "2022-01-03", true}, {"GB", "SCT", "2022-01-04", true},
		{"GB", "NIR", "2026-07-13", true}, {"GB", "GB-NIR", "2026-03-17", true}, {"GB", "WLS", "2026-03-17", false},
		{"GB", "", "2026-12-28", true}, {"GB", "", "2027-12-27", true}, {"GB", "", "2027-12-28", true}, {"GB", "", "2027-12-29", false},
		{"DE", "", "2026-06-04", false}, {"DE", "BY", "2026-06-04", true}, {"DE", "bavaria", "2026-01-06", true}, {"DE", "DE-NI", "2026-06-04", false},
		{"DE", "MV", "2022-03-08", false}, {"DE", "MV", "2024-03-08", true}, {"DE", "SN", "2026-11-18", true}, {"DE", "BB", "2026-04-05", true}, {"DE", "", "2026-10-03", true},
		{"AU", "", "2026-01-26", true}, {"AU", "", "2026-11-03", false}, {"AU", "VIC", "2026-11-03", true}, {"AU", "NSW", "2026-06-08", true}, {"AU", "WA", "2026-06-01", true}, {"AU", "NSW", "2026-06-01", false},
		{"AU", "", "2026-06-08", false}, {"AU", "QLD", "2026-10-05", true},
		{"US", "", "2026-11-26", true}, {"US", "", "2026-07-03", true}, {"US", "", "2026-07-04", true}, {"US", "", "2021-12-31", true}, {"US", "", "2026-07-06", false},
		{"SE", "", "2026-06-19", true}, {"SE", "", "2026-06-06", true}, {"NO", "", "2026-05-17", true}, {"NO", "", "2026-04-02", true},
		{"FI", "", "2026-06-19", true}, {"FI", "", "2026-06-20", true}, {"FI", "", "2026-12-06", true}, {"FI", "", "2026-01-06", true}, {"FI", "", "2026-05-14", true}, {"FI", "", "2026-10-31", true}, {"FI", "", "2026-06-26", false},
		{"DK", "", "2024-04-26", false}, {"DK", "", "2023-05-05", true}, {"IE", "", "2026-03-17", true}, {"AT", "", "2026-10-26", true},
	} {
		set, err := PublicHolidays(row.country, row.region)
		require.NoError(t, err)
		d, err := ParseDate(row.date)
		require.NoError(t, err)
		name, free := set.On(d)
		require.Equal(t, row.free, free, "%s %s %s %s", row.country, row.region, row.date, name)
		require.Equal(t, free, name != "")
	}
	set, err := PublicHolidays("GB", "")
	require.NoError(t, err)
	require.Len(t, set.Between(Date{2026, time.January, 1}, Date{2026, time.December, 31}), 9, "eight days, Boxing Day twice")
	name, _ := set.On(Date{2026, time.December, 28})
	require.Equal(t, "Boxing Day (in lieu)", name)
	var none *HolidaySet
	require.Empty(t, none.Between(Date{2026, time.January, 1}, Date{2026, time.December, 31}))
}

func TestUnknownPlacesNameTheKnown(t *testing.T) {
	_, err := PublicHolidays("XX", "")
	require.ErrorIs(t, err, ErrUnknownRegion)
	require.ErrorContains(t, err, "AT, AU, DE, DK, FI, GB, IE, NO, SE, US")
	_, err = PublicHolidays("DE", "XX")
	require.ErrorIs(t, err, ErrUnknownRegion)
	require.ErrorContains(t, err, "BB, BE, BW, BY, HB, HE, HH, MV, NI, NW, RP, SH, SL, SN, ST, TH")
	_, err = PublicHolidays("US", "TX")
	require.ErrorIs(t, err, ErrUnknownRegion)
	require.Len(t, Regions("au"), 8)
}

// Every list has holidays in every year, whatever the zone of the machine, and every set says where it comes from.
func TestEveryListInEveryYear(t *testing.T) {
	require.Equal(t, time.UTC, cal.DefaultLoc)
	for _, c := range Countries() {
		regions := append([]Region{{}}, Regions(c)...)
		for _, r := range regions {
			set, err := PublicHolidays(c, r.Code)
			require.NoError(t, err)
			require.NotEmpty(t, set.Source)
			require.True(t, strings.HasSuffix(set.Place, r.Name))
			for year := 2020; year < 2035; year++ {
				n := len(set.Between(Date{year, time.January, 1}, Date{year, time.December, 31}))
				require.True(t, n >= 5 && n <= 18, "%s %s %d: %d", c, r.Code, year, n)
				christmas, free := set.On(Date{year, time.December, 25})
				require.True(t, free && christmas != "")
			}
		}
	}
}
