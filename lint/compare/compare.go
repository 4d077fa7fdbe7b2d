// Package compare says in the words of the trade what differs between two revisions of a job: what was moved, resized,
// retimed, replaced, filled in. It also brings a job that was filled in on site back into the revision of the office.
//
// Parts are told apart by what they are, not by where they stand in the file: items, walls and circuits by their id, tasks by their word and
// what they are for, layers by their kind and turn. So a part that only stands elsewhere in the file is no difference, but for walls
// and layers, whose order means something.
package compare

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"wetrule/lint/jobfile"
	"wetrule/lint/measure"
)

// Sort says of what sort a change is.
type Sort uint8

// The sorts, in the order in which they are told.
const (
	Added     Sort = iota // the whole part is new
	Removed               // the whole part is gone
	Replaced              // another product, material or class
	Moved                 // another place
	Resized               // another length, width, depth or diameter
	Retimed               // another time
	FilledIn              // a fact that was not given
	TakenOut              // a fact that is no longer given
	Changed               // any other fact
	Reordered             // the same parts in another order
)

var sorts = []string{"added", "removed", "replaced", "moved", "resized", "retimed", "filled_in", "taken_out", "changed", "reordered"}

// String names the sort.
func (s Sort) String() string { return sorts[s] }

// Sorts lists the names in order.
func Sorts() []string { return slices.Clone(sorts) }

// Change is one fact that differs. Before or After is nil where it is not given.
type Change struct {
	Sort   Sort
	Field  string // as in the job format, from the part on: tube.od_mm; empty for the part as a whole
	Before *jobfile.Node
	After  *jobfile.Node
	// By says how far: "20 mm", "3 days later"; empty where there is nothing to say.
	By string
}

// Part is one part of the job with what differs in it.
type Part struct {
	List string // where it belongs: items, tasks, room.walls ...; empty for the job itself
	ID   string // what it is called there: steam_1, tile, waterproofing
	Kind string // the kind of an item; otherwise empty
	// At is the part in each revision, nil where it is not there.
	At      [2]*jobfile.Node
	Changes []Change
}

// Name says what the part is called, in plain words.
func (p *Part) Name() string {
	list := strings.TrimPrefix(p.List, "room.")
	switch {
	case p.List == "":
		return "the job"
	case p.Kind != "":
		return p.ID + ", " + measure.Words(p.Kind)
	case p.ID == "":
		return measure.Words(list)
	}
	word, of, _ := strings.Cut(p.ID, " (") // what it is for keeps its ids as they are
	if of != "" {
		of = " (" + of
	}
	called := measure.Words(word) + of
	name := singular[list]
	if name != "" && name != "task" && name != "layer" && name != "record" {
		called = p.ID
	}
	if name == "" { // a layer of a face of its own: room.walls/north/build_up
		name = "layer"
		if i := strings.LastIndexByte(p.List, '/'); i >= 0 {
			owner := strings.TrimSuffix(p.List[:i], "/")
			owner = owner[strings.LastIndexAny(owner, "/.")+1:]
			return name + " " + called + " of " + owner
		}
	}
	return name + " " + called
}

var singular = map[string]string{"items": "item", "tasks": "task", "records": "record", "circuits": "circuit", "leaves": "leave", "build_up": "layer",
	"walls": "wall", "benches": "bench", "openings": "opening", "partitions": "partition"}

// Jobs says what differs between two revisions of a job, part by part: those of the later revision in its order, then those that are gone.
func Jobs(before, after *jobfile.Node) []*Part {
	c := &comparison{}
	job := c.part("", "", before, after)
	c.members(job, "", before, after)
	out := slices.DeleteFunc(c.parts, func(p *Part) bool { return len(p.Changes) == 0 })
	for _, p := range out {
		p.settle()
	}
	return out
}

type comparison struct{ parts []*Part }

func (c *comparison) part(list, id string, before, after *jobfile.Node) *Part {
	p := &Part{List: list, ID: id, At: [2]*jobfile.Node{before, after}}
	if list == "items" {
		p.Kind = text(after.Get("kind"))
		if after == nil {
			p.Kind = text(before.Get("kind"))
		}
	}
	c.parts = append(c.parts, p)
	return p
}

// parted are the members of the job, and of its room, that are parts of their own; the others belong to the job.
var parted = map[string]bool{"climate": true, "room": true, "panel": true, "joints": true, "tools": true, "safety": true, "programme": true, "room.floor": true, "room.ceiling": true}

// ordered are lists whose order means something.
var ordered = map[string]bool{"room.walls": true, "build_up": true}

// members compares what two maps say. The path runs from the part on.
func (c *comparison) members(p *Part, path string, before, after *jobfile.Node) {
	for _, key := range keys(before, after) {
		a, b := before.Get(key), after.Get(key)
		full := key
		if p.List != "" && path == "" && p.ID == "" {
			full = p.List + "." + key
		}
		switch {
		case p.ID == "" && path == "" && parted[full]:
			sub := c.part(full, "", a, b)
			c.members(sub, "", a, b)
		case isList(a, b) && keyed(a, b):
			c.list(p, full, a, b)
		default:
			c.value(p, join(path, key), a, b)
		}
	}
}

// list compares two lists of things that have names.
func (c *comparison) list(p *Part, full string, before, after *jobfile.Node) {
	was, is := names(before), names(after)
	owner := full
	if p.ID != "" {
		owner = p.List + "/" + p.ID + "/" + full
	}
	for i, id := range is {
		k := slices.Index(was, id)
		var a *jobfile.Node
		if k >= 0 {
			a = before.Items()[k]
		}
		sub := c.part(owner, id, a, after.Items()[i])
		if a == nil {
			sub.Changes = append(sub.Changes, Change{Sort: Added, After: after.Items()[i]})
			continue
		}
		c.members(sub, "", a, after.Items()[i])
	}
	for i, id := range was {
		if !slices.Contains(is, id) {
			c.part(owner, id, before.Items()[i], nil).Changes = []Change{{Sort: Removed, Before: before.Items()[i]}}
		}
	}
	if ordered[full] {
		in := func(list []string) func(string) bool {
			return func(s string) bool { return !slices.Contains(list, s) }
		}
		a, b := slices.DeleteFunc(slices.Clone(was), in(is)), slices.DeleteFunc(slices.Clone(is), in(was))
		if !slices.Equal(a, b) {
			p.Changes = append(p.Changes, Change{Sort: Reordered, Field: full[strings.LastIndexByte(full, '.')+1:], Before: before, After: after, By: strings.Join(a, ", ") + " → " + strings.Join(b, ", ")})
		}
	}
}

// value compares one fact, or a map of facts within a part.
func (c *comparison) value(p *Part, path string, before, after *jobfile.Node) {
	if isMap(before) || isMap(after) {
		for _, key := range keys(before, after) {
			c.value(p, join(path, key), before.Get(key), after.Get(key))
		}
		return
	}
	if path == "inserts" || path == "glass_holes" {
		c.numbered(p, path, before, after)
		return
	}
	if Same(before, after) {
		return
	}
	ch := Change{Sort: sortOf(path), Field: path, Before: before, After: after}
	switch {
	case absent(before):
		ch.Sort = FilledIn
	case absent(after):
		ch.Sort = TakenOut
	default:
		ch.By = by(ch.Sort, path, before, after)
	}
	p.Changes = append(p.Changes, ch)
}

// numbered compares lists of maps without names, one after the other.
func (c *comparison) numbered(p *Part, path string, before, after *jobfile.Node) {
	n := max(count(before), count(after))
	for i := range n {
		a, b, at := item(before, i), item(after, i), path+"["+strconv.Itoa(i+1)+"]"
		switch {
		case a == nil:
			p.Changes = append(p.Changes, Change{Sort: FilledIn, Field: at, After: b})
		case b == nil:
			p.Changes = append(p.Changes, Change{Sort: TakenOut, Field: at, Before: a})
		default:
			c.value(p, at, a, b)
		}
	}
}

// settle puts the changes of a part in order. What a part says anew beside another product or class is told after it.
func (p *Part) settle() {
	p.joinPlace()
	slices.SortStableFunc(p.Changes, func(a, b Change) int { return int(a.Sort) - int(b.Sort) })
}

// joinPlace says of a part with other coordinates on the same face how far it was moved.
func (p *Part) joinPlace() {
	find := func(field string) *Change {
		for i := range p.Changes {
			if p.Changes[i].Field == field && p.Changes[i].Sort == Moved {
				return &p.Changes[i]
			}
		}
		return nil
	}
	x, y := find("x_mm"), find("y_mm")
	if find("face") != nil {
		for _, c := range []*Change{x, y} {
			if c != nil {
				c.By = "on another face"
			}
		}
		return
	}
	if x != nil && y != nil {
		away := math.Hypot(x.After.Num-x.Before.Num, y.After.Num-y.Before.Num)
		y.By += fmt.Sprintf(", %s mm in all", measure.FormatNumber(math.Round(away*10)/10))
	}
}

// The fields whose change is told by a word of its own. Everything else that is text or a number without a length is changed.
var (
	places = words("x_mm", "y_mm", "face", "side", "wall", "place", "points", "path", "runs", "basin_x_mm", "basin_off_mm", "hinge_y_mm", "hinge_side", "panel_joints_x_mm", "low_wall", "surplus_place")
	times  = words("start", "finish", "at", "judged_on", "issued", "until")
	wares  = words("product", "kind", "material", "family", "class", "grout", "grout_class", "perimeter", "sealant_class", "adhesive", "glass", "ip_mark", "cable_ip_mark", "insulation", "role", "outlet", "latch", "barefoot_class")
)

func words(list ...string) map[string]bool {
	m := map[string]bool{}
	for _, w := range list {
		m[w] = true
	}
	return m
}

func sortOf(path string) Sort {
	key := path[strings.LastIndexByte(path, '.')+1:]
	if i := strings.IndexByte(key, '['); i >= 0 {
		key = key[:i]
	}
	switch {
	case places[key]:
		return Moved
	case times[key]:
		return Retimed
	case wares[key]:
		return Replaced
	case strings.HasSuffix(key, "_mm") || strings.HasSuffix(key, "_m") || strings.HasSuffix(key, "_mm2"):
		return Resized
	}
	return Changed
}

// by says how far apart two values are, where that can be said.
func by(s Sort, path string, a, b *jobfile.Node) string {
	switch {
	case a.Kind == jobfile.Number && b.Kind == jobfile.Number:
		_, unit := Field(path)
		d := b.Num - a.Num
		sign := "+"
		if d < 0 {
			sign = "−"
		}
		return measure.WithUnit(sign+measure.FormatNumber(math.Abs(d)), unit)
	case s == Retimed:
		return later(a.Text, b.Text)
	case a.Kind == jobfile.List && b.Kind == jobfile.List && s == Moved:
		return shifted(a, b)
	case a.Kind == jobfile.List && b.Kind == jobfile.List:
		return setChange(a, b)
	}
	return ""
}

// later says how much later or earlier a time is. Days are of 24 h.
func later(before, after string) string {
	a, err := when(before)
	b, err2 := when(after)
	if err != nil || err2 != nil {
		return ""
	}
	d, word := b.Sub(a), " later"
	if d < 0 {
		d, word = -d, " earlier"
	}
	if d == 0 {
		return "the same moment, written otherwise"
	}
	var parts []string
	for _, u := range []struct {
		of        time.Duration
		one, many string
	}{{24 * time.Hour, "day", "days"}, {time.Hour, "h", "h"}, {time.Minute, "min", "min"}, {time.Second, "s", "s"}} {
		if n := d / u.of; n > 0 {
			name := u.many
			if n == 1 {
				name = u.one
			}
			parts = append(parts, fmt.Sprintf("%d %s", n, name))
			d -= n * u.of
		}
	}
	return strings.Join(parts, " ") + word
}

func when(s string) (time.Time, error) {
	if t, err := time.Parse(time.DateOnly, s); err == nil {
		return t, nil
	}
	return time.Parse(time.RFC3339, s)
}

// shifted says how far the points of two lines or sets of points lie apart, one after the other.
func shifted(a, b *jobfile.Node) string {
	p, q := points(a, nil), points(b, nil)
	switch {
	case len(p) == 0 || len(q) == 0:
		return ""
	case len(p) != len(q):
		return fmt.Sprintf("%d → %d points", len(p), len(q))
	}
	n, most := 0, 0.0
	for i := range p {
		if d := math.Hypot(q[i][0]-p[i][0], q[i][1]-p[i][1]); d > 0 {
			n++
			most = max(most, d)
		}
	}
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("%d of %d points, by up to %s mm", n, len(p), measure.FormatNumber(math.Round(most*10)/10))
}

// points gathers the points of a list of points, at whatever depth they lie.
func points(n *jobfile.Node, to [][2]float64) [][2]float64 {
	if n == nil || n.Kind != jobfile.List {
		return to
	}
	if len(n.Items()) == 2 && n.Items()[0].Kind == jobfile.Number && n.Items()[1].Kind == jobfile.Number {
		return append(to, [2]float64{n.Items()[0].Num, n.Items()[1].Num})
	}
	for _, x := range n.Items() {
		to = points(x, to)
	}
	return to
}

// setChange says what came into a list and what left it.
func setChange(a, b *jobfile.Node) string {
	was, is := texts(a), texts(b)
	var parts []string
	tell := func(word string, list, other []string) {
		var only []string
		for _, s := range list {
			if !slices.Contains(other, s) {
				only = append(only, s)
			}
		}
		if len(only) > 0 {
			parts = append(parts, word+" "+strings.Join(only, ", "))
		}
	}
	tell("with", is, was)
	tell("without", was, is)
	return strings.Join(parts, "; ")
}

// units are the ends of names that say a unit, the longest first.
var units = []struct{ end, unit string }{
	{"_n_mm2", "N/mm²"}, {"_mm2", "mm²"}, {"_m3_h", "m³/h"}, {"_kg_m2", "kg/m²"}, {"_g_m2", "g/m²"}, {"_w_mk", "W/(m·K)"}, {"_us_cm", "µS/cm"}, {"_mmol_l", "mmol/l"}, {"_percent", "percent"},
	{"_minutes", "min"}, {"_w_per_m", "W/m"}, {"_mohm", "MΩ"}, {"_ohm", "Ω"}, {"_kpa", "kPa"}, {"_days", "d"}, {"_mm", "mm"}, {"_ma", "mA"}, {"_kw", "kW"}, {"_kg", "kg"}, {"_deg", "°"}, {"_min", "min"},
	{"_m", "m"}, {"_c", "°C"}, {"_w", "W"}, {"_v", "V"}, {"_a", "A"}, {"_h", "h"}, {"_l", "l"},
}

// Field splits the name of a field of the job format into plain words and its unit: opening_diameter_mm gives "opening diameter" and "mm".
func Field(path string) (name, unit string) {
	name = path
	for _, u := range units {
		if s, ok := strings.CutSuffix(path, u.end); ok && s != "" && !strings.HasSuffix(s, ".") {
			name, unit = s, u.unit
			break
		}
	}
	return strings.ReplaceAll(measure.Words(name), ".", " "), unit
}

// Text writes a value on one line, as the job format writes it, without its unit. A list longer than about 60 characters is cut short.
func Text(n *jobfile.Node) string {
	const most = 60
	s := inline(n)
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}

func inline(n *jobfile.Node) string {
	switch {
	case absent(n):
		return ""
	case n.Kind == jobfile.Bool && n.Bool:
		return "yes"
	case n.Kind == jobfile.Bool:
		return "no"
	case n.Kind == jobfile.List:
		return "[" + strings.Join(texts(n), ", ") + "]"
	case n.Kind == jobfile.Map:
		var parts []string
		for _, m := range n.Members() {
			parts = append(parts, m.Key+": "+inline(m.Value))
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case n.Kind == jobfile.Number:
		return strconv.FormatFloat(n.Num, 'f', -1, 64)
	}
	return n.Text
}

func texts(n *jobfile.Node) []string {
	out := make([]string, len(n.Items()))
	for i, x := range n.Items() {
		out[i] = inline(x)
	}
	return out
}

// Same says whether two values say the same. A value that is null says nothing, like one that is not there.
func Same(a, b *jobfile.Node) bool {
	if absent(a) || absent(b) {
		return absent(a) && absent(b)
	}
	if a.Kind != b.Kind {
		return false
	}
	switch a.Kind {
	case jobfile.Bool:
		return a.Bool == b.Bool
	case jobfile.Number:
		return a.Num == b.Num
	case jobfile.String:
		return a.Text == b.Text
	case jobfile.List:
		return slices.EqualFunc(a.Items(), b.Items(), Same)
	}
	for _, key := range keys(a, b) {
		if !Same(a.Get(key), b.Get(key)) {
			return false
		}
	}
	return true
}

func absent(n *jobfile.Node) bool { return n == nil || n.Kind == jobfile.Null }

func isMap(n *jobfile.Node) bool { return n != nil && n.Kind == jobfile.Map }

// isList says whether both values are lists, or one is and the other is not there.
func isList(a, b *jobfile.Node) bool {
	list := func(n *jobfile.Node) bool { return n != nil && n.Kind == jobfile.List }
	return (list(a) || absent(a)) && (list(b) || absent(b)) && (list(a) || list(b))
}

// keyed says whether the lists hold things with names of their own.
func keyed(lists ...*jobfile.Node) bool {
	for _, n := range lists {
		for i := range count(n) {
			if identity(n.Items()[i]) == "" {
				return false
			}
		}
	}
	return count(lists[0])+count(lists[1]) > 0
}

// identity is what tells a thing in a list from the others; empty for things without a name.
func identity(n *jobfile.Node) string {
	if id := text(n.Get("id")); id != "" {
		return id
	}
	for _, key := range []string{"task", "record", "layer", "rule"} {
		if name := text(n.Get(key)); name != "" {
			var of []string
			for _, k := range []string{"items", "faces"} {
				if l := n.Get(k); l != nil {
					of = append(of, texts(l)...)
				}
			}
			for _, k := range []string{"item", "face", "when", "for", "name"} {
				if s := text(n.Get(k)); s != "" {
					of = append(of, s)
				}
			}
			if len(of) > 0 {
				name += " (" + strings.Join(of, ", ") + ")"
			}
			return name
		}
	}
	return ""
}

// names are the identities of a list, numbered from the second of a name on.
func names(n *jobfile.Node) []string {
	out := make([]string, count(n))
	seen := map[string]int{}
	for i := range out {
		id := identity(n.Items()[i])
		seen[id]++
		if k := seen[id]; k > 1 {
			id += " no. " + strconv.Itoa(k)
		}
		out[i] = id
	}
	return out
}

func text(n *jobfile.Node) string {
	if n == nil || n.Kind != jobfile.String {
		return ""
	}
	return n.Text
}

func count(n *jobfile.Node) int {
	if n == nil {
		return 0
	}
	return len(n.Items())
}

func item(n *jobfile.Node, i int) *jobfile.Node {
	if i < count(n) {
		return n.Items()[i]
	}
	return nil
}

// keys are the keys of two maps: those of the later one in its order, then those that only the earlier one has.
func keys(before, after *jobfile.Node) []string {
	var out []string
	for _, n := range []*jobfile.Node{after, before} {
		if !isMap(n) {
			continue
		}
		for _, m := range n.Members() {
			if !slices.Contains(out, m.Key) {
				out = append(out, m.Key)
			}
		}
	}
	return out
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}
