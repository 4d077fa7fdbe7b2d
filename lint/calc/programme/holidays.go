package programme

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/rickar/cal/v2"
	"github.com/rickar/cal/v2/aa"
	"github.com/rickar/cal/v2/at"
	"github.com/rickar/cal/v2/au"
	"github.com/rickar/cal/v2/de"
	"github.com/rickar/cal/v2/dk"
	"github.com/rickar/cal/v2/gb"
	"github.com/rickar/cal/v2/ie"
	"github.com/rickar/cal/v2/no"
	"github.com/rickar/cal/v2/se"
	"github.com/rickar/cal/v2/us"
)

// The library reckons days in the zone of the machine, where the clocks may skip midnight; a day must not depend on that.
func init() { cal.DefaultLoc = time.UTC }

// Holiday is a day without work.
type Holiday struct {
	Date Date
	Name string
}

// HolidaySet are the public holidays of a country or region, for all years. It may be used by several goroutines.
type HolidaySet struct {
	Country string // ISO 3166-1 alpha-2
	Region  string // code of the region, "" for the whole country
	Place   string // "Germany, Bavaria"
	Note    string // what the list leaves out or takes for granted
	Source  string

	lists [][]*cal.Holiday // a day must stand in each
	mu    sync.Mutex
	years map[int]map[Date]string
}

// Region is a part of a country with public holidays of its own.
type Region struct {
	Code string // the second part of its ISO 3166-2 code
	Name string
}

type country struct {
	name    string
	days    []*cal.Holiday // of the whole country; nil: what all regions share
	note    string
	source  string
	regions []region
}

type region struct {
	code, name string
	days       []*cal.Holiday // nil: those of the country
	note       string
}

const (
	fromLibrary = "github.com/rickar/cal/v2, definitions by country"
	fromMemory  = "memory"
	oneOff      = "single days set by proclamation are not in the list"
)

var countries = map[string]country{
	"AT": {name: "Austria", days: at.Holidays, source: fromLibrary, note: "days of the states' patron saints are not in the list"},
	"AU": {name: "Australia", source: fromLibrary, note: "only the days that all states and territories share; name the region for its own", regions: []region{
		{"ACT", "Australian Capital Territory", au.HolidaysACT, oneOff},
		{"NSW", "New South Wales", au.HolidaysNSW, oneOff},
		{"NT", "Northern Territory", au.HolidaysNT, oneOff + ", nor are regional show days"},
		{"QLD", "Queensland", au.HolidaysQLD, oneOff + ", nor are regional show days"},
		{"SA", "South Australia", au.HolidaysSA, oneOff},
		{"TAS", "Tasmania", au.HolidaysTAS, oneOff + ", nor are regional days"},
		{"VIC", "Victoria", au.HolidaysVIC, oneOff + "; the Friday before the football final is reckoned, and may be set otherwise"},
		{"WA", "Western Australia", au.HolidaysWA, oneOff + "; the monarch's birthday is set by proclamation and reckoned here"},
	}},
	"DE": {name: "Germany", days: de.Holidays, source: fromLibrary, note: "only the days that all states share; name the region for its own", regions: []region{
		{"BB", "Brandenburg", with(de.HolidaysBB, easterSunday, whitSunday), ""},
		{"BE", "Berlin", de.HolidaysBE, oneOff},
		{"BW", "Baden-Württemberg", de.HolidaysBW, ""},
		{"BY", "Bavaria", de.HolidaysBY, "15 August is free in most, not all, municipalities and is not in the list"},
		{"HB", "Bremen", de.HolidaysHB, ""},
		{"HE", "Hesse", de.HolidaysHE, ""},
		{"HH", "Hamburg", de.HolidaysHH, ""},
		{"MV", "Mecklenburg-Western Pomerania", with(de.HolidaysMV, de.Frauentag.Clone(&cal.Holiday{StartYear: 2023})), "8 March from memory"},
		{"NI", "Lower Saxony", de.HolidaysNI, ""},
		{"NW", "North Rhine-Westphalia", de.HolidaysNW, ""},
		{"RP", "Rhineland-Palatinate", de.HolidaysRP, ""},
		{"SH", "Schleswig-Holstein", de.HolidaysSH, ""},
		{"SL", "Saarland", de.HolidaysSL, ""},
		{"SN", "Saxony", de.HolidaysSN, "Corpus Christi is free in some municipalities and is not in the list"},
		{"ST", "Saxony-Anhalt", de.HolidaysST, ""},
		{"TH", "Thuringia", de.HolidaysTH, "Corpus Christi is free in some municipalities and is not in the list"},
	}},
	"DK": {name: "Denmark", days: dk.Holidays, source: fromLibrary, note: "with Constitution Day, which many trades have free by agreement"},
	"FI": {name: "Finland", days: finland, source: fromMemory, note: "with Midsummer Eve and Christmas Eve, free by agreement in the building trades"},
	"GB": {name: "United Kingdom", days: gb.Holidays, source: fromLibrary, note: "the days of England and Wales; name the region for Scotland (SCT) or Northern Ireland (NIR); " + oneOff, regions: []region{
		{"ENG", "England", gb.Holidays, oneOff},
		{"NIR", "Northern Ireland", northernIreland, "17 March and 12 July from memory; " + oneOff},
		{"SCT", "Scotland", scotland, "2 January and 30 November from memory; local holidays are not in the list; " + oneOff},
		{"WLS", "Wales", gb.Holidays, oneOff},
	}},
	"IE": {name: "Ireland", days: ie.Holidays, source: fromLibrary},
	"NO": {name: "Norway", days: with(no.Holidays, easterSunday, whitSunday), source: fromLibrary},
	"SE": {name: "Sweden", days: with(se.Holidays, se.Paskdagen, se.Pingstdagen), source: fromLibrary, note: "with Midsummer Eve, Christmas Eve and New Year's Eve, free by agreement"},
	"US": {name: "United States", days: us.Holidays, source: fromLibrary, note: "federal days, some of which building sites work on; the list has no days of states"},
}

func with(days []*cal.Holiday, more ...*cal.Holiday) []*cal.Holiday {
	return append(slices.Clip(slices.Clone(days)), more...)
}

var (
	easterSunday = aa.Easter.Clone(&cal.Holiday{Name: "Easter Sunday"})
	whitSunday   = aa.Pentecost.Clone(&cal.Holiday{Name: "Whit Sunday"})

	weekendToMonday = []cal.AltDay{{Day: time.Saturday, Offset: 2}, {Day: time.Sunday, Offset: 1}}
	afterTheFirst   = []cal.AltDay{{Day: time.Saturday, Offset: 2}, {Day: time.Sunday, Offset: 2}, {Day: time.Monday, Offset: 1}}

	// Banking and Financial Dealings Act 1971, schedule 1, and St Andrew's Day Bank Holiday (Scotland) Act 2007 (memory).
	scotland = with(without(gb.Holidays, gb.EasterMonday, gb.SummerHoliday),
		gb.SummerHolidayScotland,
		fixed("2 January", time.January, 2, afterTheFirst),
		fixed("St Andrew's Day", time.November, 30, weekendToMonday))
	// The same act (memory).
	northernIreland = with(gb.Holidays,
		fixed("St Patrick's Day", time.March, 17, weekendToMonday),
		fixed("Battle of the Boyne", time.July, 12, weekendToMonday))

	// Finnish public holidays and the two eves of the building trades' agreement (memory).
	finland = []*cal.Holiday{
		fixed("Uudenvuodenpäivä", time.January, 1, nil),
		fixed("Loppiainen", time.January, 6, nil),
		aa.GoodFriday.Clone(&cal.Holiday{Name: "Pitkäperjantai"}),
		aa.Easter.Clone(&cal.Holiday{Name: "Pääsiäispäivä"}),
		aa.EasterMonday.Clone(&cal.Holiday{Name: "Toinen pääsiäispäivä"}),
		fixed("Vappu", time.May, 1, nil),
		aa.AscensionDay.Clone(&cal.Holiday{Name: "Helatorstai"}),
		aa.Pentecost.Clone(&cal.Holiday{Name: "Helluntaipäivä"}),
		firstFrom("Juhannusaatto", time.June, 19, time.Friday),
		firstFrom("Juhannuspäivä", time.June, 20, time.Saturday),
		firstFrom("Pyhäinpäivä", time.October, 31, time.Saturday),
		fixed("Itsenäisyyspäivä", time.December, 6, nil),
		fixed("Jouluaatto", time.December, 24, nil),
		fixed("Joulupäivä", time.December, 25, nil),
		fixed("Tapaninpäivä", time.December, 26, nil),
	}
)

func without(days []*cal.Holiday, not ...*cal.Holiday) []*cal.Holiday {
	return slices.DeleteFunc(slices.Clone(days), func(h *cal.Holiday) bool { return slices.Contains(not, h) })
}

func fixed(name string, m time.Month, day int, observed []cal.AltDay) *cal.Holiday {
	return &cal.Holiday{Name: name, Month: m, Day: day, Observed: observed, Func: cal.CalcDayOfMonth}
}

// firstFrom is the first weekday on or after a date.
func firstFrom(name string, m time.Month, day int, w time.Weekday) *cal.Holiday {
	return &cal.Holiday{Name: name, Month: m, Day: day, Weekday: w, Offset: 1, Func: cal.CalcWeekdayFrom}
}

// Countries lists the codes of the countries whose public holidays are known.
func Countries() []string {
	var out []string
	for code := range countries {
		out = append(out, code)
	}
	slices.Sort(out)
	return out
}

// Regions lists the regions of a country that have public holidays of their own here.
func Regions(country string) []Region {
	var out []Region
	for _, r := range countries[strings.ToUpper(country)].regions {
		out = append(out, Region{r.code, r.name})
	}
	return out
}

// PublicHolidays are those of a country (ISO 3166-1 alpha-2) and region (the code after the country's in ISO 3166-2, with or without
// that, or the region's name in English; "" for the country). The error, ErrUnknownRegion, lists the countries or regions that are known.
func PublicHolidays(countryCode, regionCode string) (*HolidaySet, error) {
	code := strings.ToUpper(strings.TrimSpace(countryCode))
	c, ok := countries[code]
	if !ok {
		return nil, fmt.Errorf("%w for the country %q; known are %s", ErrUnknownRegion, countryCode, strings.Join(Countries(), ", "))
	}
	set := &HolidaySet{Country: code, Place: c.name, Note: c.note, Source: c.source, lists: [][]*cal.Holiday{c.days}, years: map[int]map[Date]string{}}
	wanted := strings.TrimPrefix(strings.ToUpper(strings.TrimSpace(regionCode)), code+"-")
	if wanted == "" {
		if c.days == nil {
			set.lists = nil
			for _, r := range c.regions {
				set.lists = append(set.lists, r.days)
			}
		}
		return set, nil
	}
	var known []string
	for _, r := range c.regions {
		if wanted == r.code || strings.EqualFold(wanted, r.name) {
			set.Region, set.Place, set.Note = r.code, c.name+", "+r.name, r.note
			set.lists = [][]*cal.Holiday{r.days}
			return set, nil
		}
		known = append(known, r.code)
	}
	if known == nil {
		return nil, fmt.Errorf("%w for regions of %s: leave the region out and list its days yourself", ErrUnknownRegion, c.name)
	}
	return nil, fmt.Errorf("%w for the region %q of %s; known are %s", ErrUnknownRegion, regionCode, c.name, strings.Join(known, ", "))
}

// On says whether a day is a public holiday, and which. A nil set has none.
func (h *HolidaySet) On(d Date) (name string, ok bool) {
	if h == nil {
		return "", false
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	year, ok := h.years[d.Year]
	if !ok {
		for i, list := range h.lists {
			days := daysOf(list, d.Year)
			if i == 0 {
				year = days
				continue
			}
			for day := range year {
				if days[day] == "" {
					delete(year, day)
				}
			}
		}
		if h.years == nil {
			h.years = map[int]map[Date]string{}
		}
		h.years[d.Year] = year
	}
	name, ok = year[d]
	return name, ok
}

// daysOf are the holidays of a list in a year, and the days given in their stead, which may belong to a holiday of a neighbouring year.
func daysOf(list []*cal.Holiday, year int) map[Date]string {
	out := map[Date]string{}
	set := func(t time.Time, name string) {
		if d := DateOf(t); !t.IsZero() && d.Year == year && out[d] == "" {
			out[d] = name
		}
	}
	for y := year - 1; y <= year+1; y++ {
		for _, h := range list {
			actual, _ := h.Calc(y)
			set(actual, nameOf(h, y))
		}
	}
	for y := year - 1; y <= year+1; y++ {
		for _, h := range list {
			if actual, observed := h.Calc(y); !actual.Equal(observed) {
				set(observed, nameOf(h, y)+" (in lieu)")
			}
		}
	}
	return out
}

// nameOf is the name of a holiday; the library calls the monarch's birthday by the name it had until 2022.
func nameOf(h *cal.Holiday, year int) string {
	if year >= 2023 {
		return strings.Replace(h.Name, "Queen's Birthday", "King's Birthday", 1)
	}
	return h.Name
}

// Between lists the public holidays from one day to another, both included, by date.
func (h *HolidaySet) Between(from, to Date) []Holiday {
	var out []Holiday
	for n, end := from.number(), to.number(); n <= end; n++ {
		if d := dateOfNumber(n); h != nil {
			if name, ok := h.On(d); ok {
				out = append(out, Holiday{d, name})
			}
		}
	}
	return out
}

// Easter is Easter Sunday of the Gregorian calendar (the anonymous algorithm that Meeus and Butcher gave; computed).
func Easter(year int) Date {
	t, _ := aa.Easter.Calc(year)
	return DateOf(t)
}
