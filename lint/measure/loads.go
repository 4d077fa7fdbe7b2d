package measure

import (
	"math"
	"strings"

	"wetrule/lint/calc/loads"
	"wetrule/lint/jobfile"
)

// loadsHang says how a bracket's load acts on its face.
type loadsHang uint8

const (
	loadsNowhere  loadsHang = iota // the face is not given
	loadsUpright                   // along the face: walls and risers
	loadsOverhead                  // straight off the face: the ceiling
	loadsLying                     // onto the face: floor and seats
)

// loadsRowMM is how far the heights of inserts may differ that count as one row. Inserts that stand on each other need more.
const loadsRowMM = 20

// loadsGroundMM is the panel that stays behind a plug.
//
// Source: common practice for foam panels (from memory).
const loadsGroundMM = 15

// loadsFoot is the foot of a bracket: its extent up and down, and across. Zero is not known.
type loadsFoot struct{ height, width float64 }

// loadsBracket is a fixing as a bracket on plugs in foam.
type loadsBracket struct {
	c       *Context
	hang    loadsHang
	it      *jobfile.Item
	panel   *jobfile.Panel
	foot    loadsFoot
	ys      []float64 // heights of the inserts
	leastD  float64   // the thinnest insert, mm; 0 when one is not known
	leastDL float64   // the least diameter × depth, mm²; 0 when one is not known
	weak    int       // the insert with the least diameter × depth
	arm     loadsArm
	armless string // why there is no arm
	state   State

	// What several measures take, each worked out once.
	proofPull, proofShear, plug, shear             Value
	hasProofPull, hasProofShear, hasPlug, hasShear bool
	rest                                           loadsPull
	restless                                       string // why there is no pull at rest
	rested                                         bool
}

// loadsPlugs fills in what the inserts give.
func loadsPlugs(list []jobfile.Insert) (leastD, leastDL float64, weak int) {
	leastD, leastDL = math.Inf(1), math.Inf(1)
	for i := range list {
		d, l := list[i].DiameterMM, list[i].DepthMM
		if d == nil {
			return 0, 0, 0
		}
		leastD = min(leastD, *d)
		if l == nil {
			leastDL = 0
		} else if *d**l < leastDL {
			leastDL, weak = *d**l, i
		}
	}
	return leastD, leastDL, weak
}

func loadsBracketOf(c *Context, s *Subject) (b loadsBracket, state State) {
	b.c, b.it = c, s.Item
	if s.Item.Inserts != nil && len(s.Item.Inserts) == 0 {
		return b, None
	}
	f := c.Face(s.Item.Face)
	if f == nil {
		return b, Unknown
	}
	switch b.panel = f.Panel; f.Kind {
	case WallFace, RiserFace:
		b.hang = loadsUpright
	case CeilingFace:
		b.hang = loadsOverhead
	default:
		return b, None
	}
	if s.Item.Inserts == nil {
		return b, Unknown
	}
	var x0, x1, y0, y1 = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for i := range s.Item.Inserts {
		in := &s.Item.Inserts[i]
		if in.XMM == nil || in.YMM == nil {
			return b, Unknown
		}
		x0, x1, y0, y1 = min(x0, *in.XMM), max(x1, *in.XMM), min(y0, *in.YMM), max(y1, *in.YMM)
		if b.ys == nil {
			b.ys = make([]float64, 0, len(s.Item.Inserts))
		}
		b.ys = append(b.ys, *in.YMM)
	}
	b.leastD, b.leastDL, b.weak = loadsPlugs(s.Item.Inserts)
	b.foot = loadsFootOf(s.Item, x1-x0, y1-y0)
	b.arm, b.armless = b.findArm()
	return b, Known
}

// loadsFootOf lays the foot along the line in which the inserts stand. Where they do not say, its shorter side is
// taken for its height, which is on the safe side.
func loadsFootOf(it *jobfile.Item, dx, dy float64) loadsFoot {
	length, width := 0.0, 0.0
	if it.BracketLengthMM != nil {
		length = *it.BracketLengthMM
	}
	if it.BracketWidthMM != nil {
		width = *it.BracketWidthMM
	}
	switch {
	case dy > dx:
		return loadsFoot{length, width}
	case dx > dy:
		return loadsFoot{width, length}
	case length == 0 || width == 0:
		return loadsFoot{}
	}
	return loadsFoot{min(length, width), max(length, width)}
}

// loadsArm is how the bracket holds on to its face: the arm of the couple and the fixings that are pulled.
type loadsArm struct {
	mm     float64
	top    int       // inserts in the top row
	rows   bool      // from row to row; else from the one row to the edge of the foot
	levers []float64 // from the lower edge of the foot; nil where the foot is not known or does not reach below the inserts
}

func (b *loadsBracket) findArm() (a loadsArm, why string) {
	hi, lo := math.Inf(-1), math.Inf(1)
	for _, y := range b.ys {
		hi, lo = max(hi, y), min(lo, y)
	}
	row := math.Inf(1)
	for _, y := range b.ys {
		if hi-y < loadsRowMM {
			a.top++
			row = min(row, y)
		}
	}
	if edge := (hi+lo)/2 - b.foot.height/2; b.foot.height > 0 && edge < lo {
		a.levers = make([]float64, len(b.ys))
		for i, y := range b.ys {
			a.levers[i] = y - edge
		}
		a.mm = row - edge
	}
	switch {
	case a.top < len(b.ys):
		a.mm, a.rows = row-lo, true
	case a.levers == nil:
		return a, "the inserts stand in one row, and the height of the bracket's foot is not given"
	}
	return a, ""
}

// loadsPull is the pull on the insert that is pulled hardest, in N.
type loadsPull struct {
	N   float64
	arm loadsArm
}

// pull works out the pull of a mass in kg at a reach in mm. On a wall it takes the couple, from row to row where there
// are two, which is never less than the elastic model; both are in the steps, which are written only when there is somewhere to. Why is
// empty when it can be worked out.
//
// Source: statics; Bhandari, Design of Machine Elements, examples 7.5 and 7.6 (read).
func (b *loadsBracket) pull(kg float64, reach *float64, steps *[]string) (p loadsPull, why string) {
	w, err := loads.Weight(kg)
	if err != nil {
		return p, err.Error()
	}
	n := len(b.ys)
	if steps != nil {
		*steps = append(*steps, said("W = m·g = %s kg · 9.80665 m/s² = %s N", figure(kg), figure(w)))
	}
	if b.hang == loadsOverhead {
		if p.N, err = loads.DirectShear(w, n); err != nil {
			return p, err.Error()
		}
		if steps != nil {
			*steps = append(*steps, said("overhead: N = W / n = %s / %d = %s N", figure(w), n, figure(p.N)))
		}
		return p, ""
	}
	if reach == nil {
		return p, "the reach is not given"
	}
	if p.arm, why = b.arm, b.armless; why != "" {
		return p, why
	}
	if p.arm.levers != nil {
		all, err := loads.ElasticPullOut(w, *reach, p.arm.levers)
		if err != nil {
			return p, err.Error()
		}
		p.N = 0
		sum, lever := 0.0, 0.0
		for i, v := range all {
			sum += p.arm.levers[i] * p.arm.levers[i]
			lever = max(lever, p.arm.levers[i])
			p.N = max(p.N, v)
		}
		if steps != nil {
			*steps = append(*steps, said("elastic, stiff foot about its lower edge (foot %s mm high, taken as centred on its inserts): N = W·e·l / Σl² = %s · %s · %s / %s = %s N (Bhandari, ex. 7.5)",
				figure(b.foot.height), figure(w), figure(*reach), figure(lever), figure(sum), figure(p.N)))
		}
	} else if steps != nil {
		*steps = append(*steps, "elastic model left out: the height of the foot is not known, or it does not reach below the lowest insert")
	}
	couple, err := loads.CouplePullOut(w, *reach, p.arm.mm, p.arm.top)
	if err != nil {
		return p, err.Error()
	}
	to := "lower edge of the foot"
	if p.arm.rows {
		to = "lowest row"
	}
	if steps != nil {
		*steps = append(*steps, said("couple, top row to %s: N = W·e / (h·n) = %s · %s / (%s · %d) = %s N (statics)", to, figure(w), figure(*reach), figure(p.arm.mm), p.arm.top, figure(couple)))
	}
	p.N = max(p.N, couple)
	if steps != nil {
		*steps = append(*steps, said("the larger counts: N = %s N", figure(p.N)))
	}
	return p, ""
}

// pullSteps are the steps of pull.
func (b *loadsBracket) pullSteps(kg float64, reach *float64, before ...string) (steps []string) {
	steps = append(make([]string, 0, len(before)+5), before...)
	b.pull(kg, reach, &steps)
	return steps
}

// note names what was taken where the foot decides.
func (p *loadsPull) note() string {
	if p.arm.levers != nil && !p.arm.rows {
		return "inserts in one row; foot taken as centred on them"
	}
	return ""
}

// resting is the reach at which the load stays: folded in, where the arm folds.
func (b *loadsBracket) resting() *float64 {
	if b.it.ReachFoldedMM != nil {
		return b.it.ReachFoldedMM
	}
	return b.it.ReachMM
}

// restingPull is the pull of the load at which it stays, for a bracket whose load is given.
func (b *loadsBracket) restingPull() (p loadsPull, why string) {
	if !b.rested {
		b.rested = true
		b.rest, b.restless = b.pull(*b.it.LoadKG, b.resting(), nil)
	}
	return b.rest, b.restless
}

// loadsShear is the shear strength of a panel's foam; its state is Unknown when the job does not give one.
func loadsShear(p *jobfile.Panel) (loads.Strength, bool) {
	if p == nil || p.ShearNMM2 == nil {
		return loads.Strength{}, false
	}
	if p.ShearAssumed != nil && *p.ShearAssumed {
		return loads.Assumed(*p.ShearNMM2), true
	}
	return loads.Declared(*p.ShearNMM2), true
}

// loadsShearRemark is the last remark on a shear strength.
type loadsShearRemark struct {
	of    loads.Strength
	words string
}

// loadsShearNote is the remark on a shear strength. Most fixings of a job are in panels of the same.
func loadsShearNote(c *Context, s loads.Strength) string {
	if c.shearNote.words == "" || c.shearNote.of != s {
		c.shearNote.of, c.shearNote.words = s, loadsShearWords(s)
	}
	return c.shearNote.words
}

func loadsShearWords(s loads.Strength) string {
	how := "declared"
	if s.Assumed {
		how = "assumed, not declared"
	}
	return said("foam shear %s N/mm² %s; bond taken as no weaker, over the whole depth of the hole", figure(s.NMM2), how)
}

const loadsNoShear = "no shear strength of the foam is given; XPS declarations seldom name one, so ask the maker or have it tested"

// loadsPlugResistance is the pull that the weakest of the inserts resists.
func loadsPlugResistance(c *Context, panel *jobfile.Panel, list []jobfile.Insert) Value {
	tau, ok := loadsShear(panel)
	if !ok {
		return unknown().note(loadsNoShear)
	}
	_, dl, weak := loadsPlugs(list)
	if dl == 0 {
		return unknown()
	}
	d, l := *list[weak].DiameterMM, *list[weak].DepthMM
	r, err := loads.PlugPullOut(d, l, tau)
	if err != nil {
		return unknown().note(err.Error())
	}
	return c.explained(number(r.N), loadsShearNote(c, tau), func() []string {
		return []string{said("N_R = π·d·L·τ = π · %s · %s · %s = %s N (uniform bond, as EN 1992-4, from memory; the end of the plug is left out)", figure(d), figure(l), figure(tau.NMM2), figure(r.N))}
	})
}

// plugResistance is loadsPlugResistance of the bracket.
func (b *loadsBracket) plugResistance() Value {
	return once(&b.hasPlug, &b.plug, func() Value { return loadsPlugResistance(b.c, b.panel, b.it.Inserts) })
}

// loadsOf calls f with a bracket that is known well enough.
func loadsOf(f func(*loadsBracket) Value) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		b := c.brackets[s.Item]
		if b == nil {
			made, state := loadsBracketOf(c, s)
			made.state = state
			b = &made
			if c.brackets == nil {
				c.brackets = map[*jobfile.Item]*loadsBracket{}
			}
			c.brackets[s.Item] = b
		}
		if b.state != Known {
			return Value{State: b.state}
		}
		return f(b)
	}
}

// loadsOfWall is loadsOf for what arises on walls and risers only.
func loadsOfWall(f func(*loadsBracket) Value) func(*Context, *Subject) Value {
	return loadsOf(func(b *loadsBracket) Value {
		if b.hang != loadsUpright {
			return none()
		}
		return f(b)
	})
}

func (b *loadsBracket) proofKG() (float64, bool) {
	if b.it.LoadKG == nil {
		return 0, false
	}
	kg, err := loads.ProofMass(*b.it.LoadKG)
	return kg, err == nil
}

func (b *loadsBracket) proofStep() string {
	kg, _ := b.proofKG()
	return said("proof load: the larger of 4 · %s kg and 4.5 kg = %s kg", figure(*b.it.LoadKG), figure(kg))
}

// loadsProofPull is the pull under the proof load with the arm fully extended.
func loadsProofPull(b *loadsBracket) Value {
	return once(&b.hasProofPull, &b.proofPull, b.findProofPull)
}

func (b *loadsBracket) findProofPull() Value {
	kg, ok := b.proofKG()
	if !ok {
		return unknown()
	}
	p, why := b.pull(kg, b.it.ReachMM, nil)
	if why != "" {
		return unknown().note(why)
	}
	n := p.N // alone, as p is large
	return b.c.explained(number(n), p.note(), func() []string {
		out := b.pullSteps(kg, b.it.ReachMM, b.proofStep())
		if tau, ok := loadsShear(b.panel); ok && b.leastD > 0 {
			if l, err := loads.PlugDepth(n, 1, b.leastD, tau); err == nil {
				out = append(out, said("bonded depth for it: L = N / (π·d·τ) = %s / (π · %s · %s) = %s mm", figure(n), figure(b.leastD), figure(tau.NMM2), figure(l)))
			}
		}
		return out
	})
}

func loadsProofShear(b *loadsBracket) Value {
	return once(&b.hasProofShear, &b.proofShear, b.findProofShear)
}

func (b *loadsBracket) findProofShear() Value {
	kg, ok := b.proofKG()
	if !ok {
		return unknown()
	}
	w, err := loads.Weight(kg)
	if err != nil {
		return unknown()
	}
	v, err := loads.DirectShear(w, len(b.ys))
	if err != nil {
		return unknown()
	}
	return b.c.worked(number(v), func() []string {
		return []string{b.proofStep(), said("V = m·g / n = %s · 9.80665 / %d = %s N (statics)", figure(kg), len(b.ys), figure(v))}
	})
}

// loadsShearResistance is the force across the weakest insert at which it presses into the foam.
func loadsShearResistance(b *loadsBracket) Value {
	return once(&b.hasShear, &b.shear, b.findShearResistance)
}

func (b *loadsBracket) findShearResistance() Value {
	if b.panel == nil || b.panel.CompressiveKPa == nil || b.leastDL == 0 {
		return unknown()
	}
	in := &b.it.Inserts[b.weak]
	v, err := loads.PlugBearing(*in.DiameterMM, *in.DepthMM, *b.panel.CompressiveKPa)
	if err != nil {
		return unknown().note(err.Error())
	}
	return b.c.worked(number(v), func() []string {
		return []string{said("V_R = d·L·f = %s · %s · %s kPa / 1000 = %s N (projected area, EN 13164 level)", figure(*in.DiameterMM), figure(*in.DepthMM), figure(*b.panel.CompressiveKPa), figure(v))}
	})
}

// loadsInteraction adds up what the proof load uses of both resistances. It does not arise where one alone is not enough.
func loadsInteraction(b *loadsBracket) Value {
	n, v := loadsProofPull(b), loadsProofShear(b)
	nr, vr := b.plugResistance(), loadsShearResistance(b)
	for _, x := range [...]Value{n, v, nr, vr} {
		if x.State != Known {
			return unknown().note(x.Note())
		}
	}
	if n.Num > nr.Num || v.Num > vr.Num {
		return none()
	}
	sum, err := loads.Interaction(n.Num, nr.Num, v.Num, vr.Num, loads.Linear)
	if err != nil {
		return unknown().note(err.Error())
	}
	return b.c.explained(number(100*sum), nr.Note(), func() []string {
		return []string{said("N/N_R + V/V_R = %s/%s + %s/%s = %s (EN 1992-4, 7.2.3, from memory, with exponent 1, on the safe side)",
			figure(n.Num), figure(nr.Num), figure(v.Num), figure(vr.Num), figure(sum))}
	})
}

// loadsLasting is the part of the short-term strength that the load uses day and night.
func loadsLasting(b *loadsBracket) Value {
	tau, ok := loadsShear(b.panel)
	if !ok {
		return unknown().note(loadsNoShear)
	}
	if b.it.LoadKG == nil || b.leastDL == 0 {
		return unknown()
	}
	p, why := b.restingPull()
	if why != "" {
		return unknown().note(why)
	}
	v := 0.0
	if b.hang == loadsUpright {
		v = *b.it.LoadKG * loads.StandardGravity / float64(len(b.ys))
	}
	in := &b.it.Inserts[b.weak]
	share, err := loads.Share(p.N, v, *in.DiameterMM, *in.DepthMM, tau)
	if err != nil {
		return unknown().note(err.Error())
	}
	return b.c.explained(number(100*share), loadsShearNote(b.c, tau), func() []string {
		return append(b.pullSteps(*b.it.LoadKG, b.resting()), said("√(N² + V²) / (π·d·L·τ) = √(%s² + %s²) / (π · %s · %s · %s) = %s (statics; heat and damp left out)",
			figure(p.N), figure(v), figure(*in.DiameterMM), figure(*in.DepthMM), figure(tau.NMM2), figure(share)))
	})
}

// loadsFootPressure is the lasting pressure under the lower part of the foot.
func loadsFootPressure(b *loadsBracket) Value {
	if b.it.LoadKG == nil {
		return unknown()
	}
	p, why := b.restingPull()
	switch {
	case why != "":
		return unknown().note(why)
	case b.foot.height == 0 || b.foot.width == 0:
		return unknown()
	}
	mm := p.arm.mm // alone, as p is large
	force := *b.it.LoadKG * loads.StandardGravity * *b.resting() / mm
	kpa, err := loads.PlateBearing(force, b.foot.width, b.foot.height)
	if err != nil {
		return unknown().note(err.Error())
	}
	return b.c.explained(number(kpa), p.note(), func() []string {
		return []string{
			said("C = m·g·e / h = %s · 9.80665 · %s / %s = %s N", figure(*b.it.LoadKG), figure(*b.resting()), figure(mm), figure(force)),
			said("over the width and a quarter of the height of the foot: %s N / (%s · %s / 4) = %s kPa (statics; the quarter is common practice)", figure(force), figure(b.foot.width), figure(b.foot.height), figure(kpa)),
		}
	})
}

// loadsPlugPressure is the lasting pressure of the inserts across the foam.
func loadsPlugPressure(b *loadsBracket) Value {
	if b.it.LoadKG == nil || b.leastDL == 0 {
		return unknown()
	}
	v := *b.it.LoadKG * loads.StandardGravity / float64(len(b.ys))
	kpa := 1000 * v / b.leastDL
	return b.c.worked(number(kpa), func() []string {
		in := &b.it.Inserts[b.weak]
		return []string{said("V / (d·L) = %s N / (%s · %s) = %s kPa (statics)", figure(v), figure(*in.DiameterMM), figure(*in.DepthMM), figure(kpa))}
	})
}

func loadsCreep(b *loadsBracket) Value {
	if b.panel == nil {
		return unknown()
	}
	return num(b.panel.CreepKPa)
}

// loadsDepthNeeded is the bonded depth at which the thinnest insert resists the proof load.
func loadsDepthNeeded(b *loadsBracket) Value {
	tau, ok := loadsShear(b.panel)
	if !ok {
		return unknown().note(loadsNoShear)
	}
	n := loadsProofPull(b)
	if n.State != Known || b.leastD == 0 {
		return unknown().note(n.Note())
	}
	l, err := loads.PlugDepth(n.Num, 1, b.leastD, tau)
	if err != nil {
		return unknown().note(err.Error())
	}
	return b.c.explained(number(l), loadsShearNote(b.c, tau), func() []string {
		return []string{said("L = N / (π·d·τ) = %s / (π · %s · %s) = %s mm", figure(n.Num), figure(b.leastD), figure(tau.NMM2), figure(l))}
	})
}

// loadsTest returns the heaviest load test of an item; nil without one that names its mass.
func loadsTest(c *Context, id string) *jobfile.Record {
	var best *jobfile.Record
	for i := range c.Job.Records {
		r := &c.Job.Records[i]
		if r.Record == "load_test" && r.Item == id && r.MassKG != nil && (best == nil || *r.MassKG > *best.MassKG) {
			best = r
		}
	}
	return best
}

// loadsScreenMax is the heaviest screen of the interface; without a screen it does not arise.
func loadsScreenMax(_ *Context, s *Subject) Value {
	if s.Item.ScreenMount == "" {
		return none()
	}
	kg, err := loads.ScreenMassMax(loads.ScreenMount(s.Item.ScreenMount))
	if err != nil {
		return unknown().note(err.Error())
	}
	return number(kg)
}

// loadsItems gives another kind of subject to the items of a kind.
func loadsItems(kind, item string) func(*Context) []Subject {
	items := itemsOf(item)
	return func(c *Context) []Subject {
		out := items(c)
		for i := range out {
			out[i].Kind = kind
		}
		return out
	}
}

var (
	loadsProofNeeds = []string{"load_kg", "reach_mm", "inserts", "face"} // two rows need no foot, and few arms fold
	loadsPlugNeeds  = []string{"/panel/shear_n_mm2", "inserts", "inserts.0.depth_mm", "inserts.0.diameter_mm", "face"}
)

const loadsBhandari = "statics; Bhandari, Design of Machine Elements, examples 7.5 and 7.6 (read)"

var _ = register("bracket", "a fixing as a load on its inserts and the foam", loadsItems("bracket", "fixing"),
	given(Number, "load_kg", "kg", "mass that the bracket carries", "load_kg", func(c *Context, s *Subject) Value { return num(s.Item.LoadKG) }),
	def(Number, "pull_proof_n", "N", "pull on the insert that is pulled hardest, under the proof load and fully extended",
		"W·e ÷ (h·n) from the top row of inserts to the lowest, or to the edge of the foot where there is one row; overhead W ÷ n; with 4 × the mass, at least 4.5 kg; does not arise on floors and seats", loadsBhandari, loadsProofNeeds, loadsOf(loadsProofPull)),
	def(Number, "pull_resistance_n", "N", "pull that the weakest insert resists", "π × diameter × depth × shear strength of the foam", "uniform bond model as in EN 1992-4 (memory)", loadsPlugNeeds,
		loadsOf((*loadsBracket).plugResistance)),
	def(Number, "shear_proof_n", "N", "force across each insert under the proof load", "W ÷ n with 4 × the mass, at least 4.5 kg; does not arise on ceilings, floors and seats", "statics (computed)", []string{"load_kg", "inserts", "face"}, loadsOfWall(loadsProofShear)),
	def(Number, "shear_resistance_n", "N", "force across the weakest insert at which it presses into the foam", "diameter × depth × declared compressive stress", "levels of EN 13164 (computed)",
		[]string{"/panel/compressive_kpa", "inserts", "inserts.0.depth_mm", "inserts.0.diameter_mm", "face"}, loadsOfWall(loadsShearResistance)),
	def(Number, "interaction_percent", "percent", "part of both resistances of an insert that the proof load uses together", "100 × (pull ÷ its resistance + shear ÷ its resistance); does not arise where one of them alone is too much, nor on ceilings, floors and seats",
		"EN 1992-4, 7.2.3 (memory), with exponent 1", append([]string{"load_kg", "reach_mm", "/panel/compressive_kpa"}, loadsPlugNeeds...), loadsOfWall(loadsInteraction)),
	def(Number, "lasting_percent", "percent", "part of the foam's short-term strength that the load uses day and night", "100 × √(pull² + shear²) ÷ (π × diameter × depth × shear strength), with the arm folded in where it folds",
		"statics (computed)", append(append([]string{}, loadsProofNeeds...), loadsPlugNeeds...), loadsOf(loadsLasting)),
	def(Number, "foot_pressure_kpa", "kPa", "lasting pressure of the lower part of the foot on the foam", "mass × g × reach ÷ arm ÷ (width × height of the foot ÷ 4); does not arise on ceilings, floors and seats", "statics; the quarter is common practice",
		append([]string{"bracket_width_mm", "bracket_length_mm"}, loadsProofNeeds...), loadsOfWall(loadsFootPressure)),
	def(Number, "plug_pressure_kpa", "kPa", "lasting pressure of the inserts across the foam", "mass × g ÷ number ÷ (diameter × depth); does not arise on ceilings, floors and seats", "statics (computed)", []string{"load_kg", "inserts", "inserts.0.depth_mm", "inserts.0.diameter_mm", "face"}, loadsOfWall(loadsPlugPressure)),
	def(Number, "panel_creep_kpa", "kPa", "declared compressive stress of the foam for lasting loads", "as given for the board of the face, else for all boards; does not arise on floors and seats", "", []string{"/panel/creep_kpa", "face"}, loadsOf(loadsCreep)),
	def(Number, "plug_depth_needed_mm", "mm", "bonded depth that the proof load needs", "pull ÷ (π × diameter × shear strength)", "solved from the uniform bond model (computed)", append(append([]string{}, loadsProofNeeds...), loadsPlugNeeds...), loadsOf(loadsDepthNeeded)),
	def(Number, "plug_depth_possible_mm", "mm", "deepest hole that leaves 15 mm of panel", "panel thickness − 15", "common practice for foam panels (from memory)", []string{"/panel/thickness_mm", "face"}, loadsOf(func(b *loadsBracket) Value {
		if b.panel == nil || b.panel.ThicknessMM == nil {
			return unknown()
		}
		return number(*b.panel.ThicknessMM - loadsGroundMM)
	})),
	def(Text, "shear_basis", "", "where the shear strength of the foam comes from", "assumed where the job says so, else declared", "", []string{"/panel/shear_n_mm2", "face"}, loadsOf(func(b *loadsBracket) Value {
		switch tau, ok := loadsShear(b.panel); {
		case !ok:
			return unknown().note(loadsNoShear)
		case tau.Assumed:
			return text("assumed")
		}
		return text("declared")
	})).oneOf("declared", "assumed"),
	def(Number, "proof_mass_kg", "kg", "proof load of the fixing", "4 × the mass, at least 4.5 kg; does not arise on floors and seats", "mounting-means test of UL (read)", []string{"load_kg", "face"}, loadsOf(func(b *loadsBracket) Value {
		kg, ok := b.proofKG()
		if !ok {
			return unknown()
		}
		return b.c.worked(number(kg), func() []string { return []string{b.proofStep()} })
	})),
	def(Number, "tested_kg", "kg", "heaviest recorded test load of the fixing", "largest mass of its load tests; does not arise on floors and seats", "", []string{"/records/load_test", "/records", "face"}, func(c *Context, s *Subject) Value {
		return loadsOf(func(*loadsBracket) Value {
			if r := loadsTest(c, s.ID); r != nil {
				return num(r.MassKG)
			}
			return unknown()
		})(c, s)
	}),
	def(Number, "tested_min", "min", "how long the heaviest test load hung", "as given; does not arise without a load test", "", []string{"/records/load_test/held_min"}, func(c *Context, s *Subject) Value {
		return loadsOf(func(*loadsBracket) Value {
			if r := loadsTest(c, s.ID); r != nil {
				return num(r.HeldMin)
			}
			return none()
		})(c, s)
	}),
	def(Number, "screen_mass_max_kg", "kg", "heaviest screen of the part of the mounting interface", "looked up; does not arise without a screen mount", "FDMI 2006, parts B to E (read), part F (memory)", []string{"screen_mount"}, loadsScreenMax),
)

// loadsLeaf is the leaf of a door with where its figures come from.
type loadsLeaf struct {
	width, height, kg float64 // zero when not known
	massBasis         string
}

// loadsLeafOf takes the leaf as given, else the doorway as its size.
func loadsLeafOf(it *jobfile.Item) (l loadsLeaf) {
	pick := func(leaf, opening *float64) (mm float64, given bool) {
		switch {
		case leaf != nil:
			return *leaf, true
		case opening != nil:
			return *opening, false
		}
		return 0, false
	}
	var w, h bool
	l.width, w = pick(it.LeafWidthMM, it.WidthMM)
	l.height, h = pick(it.LeafHeightMM, it.HeightMM)
	switch {
	case it.LeafMassKG != nil:
		l.kg, l.massBasis = *it.LeafMassKG, "maker"
	case l.width > 0 && l.height > 0 && it.GlassThicknessMM != nil:
		kg, err := loads.GlassMass(l.width, l.height, *it.GlassThicknessMM)
		if err != nil {
			return l
		}
		l.kg, l.massBasis = kg, "opening"
		if w && h {
			l.massBasis = "leaf_size"
		}
	}
	return l
}

func (l *loadsLeaf) note() string {
	switch l.massBasis {
	case "opening":
		return "mass of the glass alone, of the size of the doorway"
	case "leaf_size":
		return "mass of the glass alone, without its fittings"
	}
	return ""
}

func (l *loadsLeaf) steps(it *jobfile.Item) []string {
	if l.massBasis == "maker" {
		return []string{"m = " + FormatNumber(l.kg) + " kg by the maker"}
	}
	return []string{said("m = 2500 kg/m³ · %s · %s · %s mm = %s kg (EN 572-1)", figure(l.width), figure(l.height), figure(*it.GlassThicknessMM), figure(l.kg))}
}

// loadsHinged is how far the outer hinges are apart, and how many inserts hold the top one. Without heights of the hinges
// an insert stands for each hinge when there are as many of them.
func loadsHinged(it *jobfile.Item) (apart float64, inserts int, why string) {
	if it.Inserts == nil {
		return 0, 0, "the inserts are not given"
	}
	ys := it.HingeYMM
	if ys == nil {
		if it.Hinges == nil || int(*it.Hinges) != len(it.Inserts) {
			return 0, 0, "the heights of the hinges are not given"
		}
		for i := range it.Inserts {
			if it.Inserts[i].YMM == nil {
				return 0, 0, "the height of an insert is not given"
			}
			ys = append(ys, *it.Inserts[i].YMM)
		}
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, y := range ys {
		lo, hi = min(lo, y), max(hi, y)
	}
	if !(hi > lo) {
		return 0, 0, "two hinges at different heights are wanted"
	}
	for i := range it.Inserts {
		y := it.Inserts[i].YMM
		if y == nil {
			return 0, 0, "the height of an insert is not given"
		}
		nearest := hi
		for _, h := range ys {
			if math.Abs(*y-h) < math.Abs(*y-nearest) {
				nearest = h
			}
		}
		if nearest == hi {
			inserts++
		}
	}
	if inserts == 0 {
		return 0, 0, "no insert is nearest to the top hinge"
	}
	return hi - lo, inserts, ""
}

// loadsDoorPull is the pull on each insert of the top hinge with the leaf open, times the safety factor. Shut, the same force lies in
// the plane of the wall.
//
// Source: statics; Halliday, Resnick and Walker, chapter 12, problem 31 (read). Factor: common practice.
func loadsDoorPull(c *Context, s *Subject) Value {
	it := s.Item
	if it.Inserts != nil && len(it.Inserts) == 0 {
		return none()
	}
	l := loadsLeafOf(it)
	if l.kg == 0 || l.width == 0 {
		return unknown()
	}
	apart, n, why := loadsHinged(it)
	if why != "" {
		return unknown().note(why)
	}
	w, err := loads.Weight(l.kg)
	if err != nil {
		return unknown().note(err.Error())
	}
	f, err := loads.HingeForces(w, l.width, apart)
	if err != nil {
		return unknown().note(err.Error())
	}
	each := loads.SafetyFactor * f.Pull / float64(n)
	return c.explained(number(each), l.note(), func() []string {
		return append(l.steps(it),
			said("H = W·b / (2·h) = %s · %s / (2 · %s) = %s N at the top hinge (Halliday et al., ch. 12)", figure(w), figure(l.width), figure(apart), figure(f.Pull)),
			said("leaf open, per insert with factor 4: 4 · %s / %d = %s N", figure(f.Pull), n, figure(each)),
			said("down: V = %s N shared, %s N on one hinge; together √(H² + V²) = %s N shared, %s N on one hinge. The profile and its bond carry V, which is not worked out here",
				figure(f.SharedDown), figure(w), figure(f.SharedTotal), figure(f.AloneTotal)))
	})
}

// loadsHingeMass is the mass that hinges are chosen for.
func loadsHingeMass(c *Context, s *Subject) Value {
	l := loadsLeafOf(s.Item)
	if l.kg == 0 || l.width == 0 || l.height == 0 {
		return unknown()
	}
	kg, err := loads.HingeMass(l.kg, l.height, l.width, loads.NoCloser, loads.OrdinaryUse)
	if err != nil {
		return unknown().note(err.Error())
	}
	var notes []string
	if n := l.note(); n != "" {
		notes = append(notes, n)
	}
	notes = append(notes, "no closer and ordinary use taken")
	return c.explained(number(kg), strings.Join(notes, "; "), func() []string {
		add, _ := loads.WidthCorrection(l.height, l.width)
		out := append(l.steps(s.Item), said("width correction: 2 − height/width = 2 − %s/%s, at least 0: %s (guidance to EN 1935)", figure(l.height), figure(l.width), figure(add)),
			said("m · (1 + %s) = %s kg", figure(add), figure(kg)))
		if digit, err := loads.HingeDigit(kg); err == nil {
			out = append(out, said("EN 1935 mass digit %d, for hinges in its scope; hinges of glass on a wall are outside it", digit))
		}
		return out
	})
}

func loadsHingesNeeded(c *Context, s *Subject) Value {
	l := loadsLeafOf(s.Item)
	if l.kg == 0 {
		return unknown()
	}
	n, err := loads.HingeCount(l.kg)
	if err != nil {
		return unknown().note(err.Error())
	}
	return c.explained(number(float64(n)), l.note(), func() []string {
		return append(l.steps(s.Item), said("2 hinges up to %s kg, 3 above: %d (common practice)", figure(loads.TwoHingesKG), n))
	})
}

// loadsGlass calls f with each hole of a toughened leaf and takes the least of what it gives, less what the hole must
// exceed. Other glass than toughened has other limits: there it does not arise.
func loadsGlass(holes int, limit func(loads.GlassHoleGaps) float64, f func(it *jobfile.Item, i int) (float64, bool)) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		it := s.Item
		switch {
		case it.Glass != "" && it.Glass != "toughened":
			return none()
		case it.Glass == "" || it.GlassHoles == nil:
			return unknown()
		case len(it.GlassHoles) < holes:
			return none()
		case it.GlassThicknessMM == nil:
			return unknown()
		}
		g, err := loads.GlassHoleLimits(*it.GlassThicknessMM)
		if err != nil {
			return unknown().note(err.Error())
		}
		least, which := math.Inf(1), 0
		for i := range it.GlassHoles {
			v, ok := f(it, i)
			if !ok {
				return unknown()
			}
			if v < least {
				least, which = v, i
			}
		}
		return c.with(number(least-limit(g)), "", c.spell(s.Pointer, "/glass_holes/", smallNumber(which)), func() []string {
			return []string{said("hole %d: %s − %s mm = %s mm; more than 0 is wanted (EN 12150-1, clause 7)", which+1, figure(least), figure(limit(g)), figure(least-limit(g)))}
		})
	}
}

// loadsHoleInLeaf gives the place of a hole from the nearest upright and the nearest level edge, and its radius.
func loadsHoleInLeaf(it *jobfile.Item, i int) (x, y, r float64, ok bool) {
	h := &it.GlassHoles[i]
	if it.LeafWidthMM == nil || it.LeafHeightMM == nil || h.XMM == nil || h.YMM == nil || h.DiameterMM == nil {
		return 0, 0, 0, false
	}
	return min(*h.XMM, *it.LeafWidthMM-*h.XMM), min(*h.YMM, *it.LeafHeightMM-*h.YMM), *h.DiameterMM / 2, true
}

func loadsHoleEdge(it *jobfile.Item, i int) (float64, bool) {
	x, y, r, ok := loadsHoleInLeaf(it, i)
	return min(x, y) - r, ok
}

func loadsHoleCorner(it *jobfile.Item, i int) (float64, bool) {
	x, y, r, ok := loadsHoleInLeaf(it, i)
	return math.Hypot(x, y) - r, ok
}

func loadsHoleWeb(it *jobfile.Item, i int) (float64, bool) {
	a := &it.GlassHoles[i]
	least := math.Inf(1)
	for k := range it.GlassHoles {
		b := &it.GlassHoles[k]
		if b.XMM == nil || b.YMM == nil || b.DiameterMM == nil {
			return 0, false
		}
		if k != i && a.XMM != nil && a.YMM != nil && a.DiameterMM != nil {
			least = min(least, math.Hypot(*a.XMM-*b.XMM, *a.YMM-*b.YMM)-*a.DiameterMM/2-*b.DiameterMM/2)
		}
	}
	return least, true
}

var loadsGlassNeeds = []string{"glass_holes", "glass_thickness_mm", "leaf_width_mm", "leaf_height_mm", "glass_holes.0.diameter_mm", "glass"}

const loadsGlassSource = "EN 12150-1:2015+A1:2019, clause 7 (read)"

var loadsLeafNeeds = []string{"leaf_mass_kg", "glass_thickness_mm", "width_mm", "height_mm"}

var _ = register("door_leaf", "the leaf of a glazed door as a load on its hinges and inserts", loadsItems("door_leaf", "glazed_door"),
	def(Text, "mass_basis", "", "where the mass of the leaf comes from", "maker where it is given, else the glass by the size of the leaf, else by that of the doorway", "", []string{"leaf_mass_kg", "glass_thickness_mm", "leaf_width_mm", "leaf_height_mm"}, func(_ *Context, s *Subject) Value {
		return text(loadsLeafOf(s.Item).massBasis)
	}).oneOf("maker", "leaf_size", "opening"),
	def(Number, "hinge_mass_kg", "kg", "mass of leaf that the hinges are chosen for", "mass × (1 + 2 − height ÷ width where that is more than 0); mass as given, else 2.5 kg/m² per mm of glass", "guidance to EN 1935 (read); density of glass by EN 572-1 (read)", loadsLeafNeeds, loadsHingeMass),
	given(Number, "hinge_rating_kg", "kg", "mass of leaf that the maker of the hinges allows", "hinge_rating_kg", func(_ *Context, s *Subject) Value { return num(s.Item.HingeRatingKG) }),
	given(Number, "hinges", "", "number of hinges", "hinges", func(_ *Context, s *Subject) Value { return num(s.Item.Hinges) }),
	def(Number, "hinges_needed", "", "usual number of hinges for the mass of the leaf", "2 up to 40 kg, 3 above", "common practice", loadsLeafNeeds, loadsHingesNeeded),
	def(Number, "pull_proof_n", "N", "pull on each insert of the top hinge with the leaf open, with factor 4", "4 × weight × width ÷ (2 × distance of the hinges) ÷ inserts of the top hinge; does not arise without inserts",
		"statics; Halliday, Resnick and Walker, chapter 12, problem 31 (read)", append([]string{"hinge_y_mm", "inserts", "hinges"}, loadsLeafNeeds...), loadsDoorPull),
	def(Number, "pull_resistance_n", "N", "pull that the weakest insert resists", "π × diameter × depth × shear strength of the foam; does not arise without inserts", "uniform bond model as in EN 1992-4 (memory)", loadsPlugNeeds, func(c *Context, s *Subject) Value {
		switch list := s.Item.Inserts; {
		case list == nil:
			return unknown()
		case len(list) == 0:
			return none()
		}
		f := c.Face(s.Item.Face)
		if f == nil {
			return unknown()
		}
		return loadsPlugResistance(c, f.Panel, s.Item.Inserts)
	}),
	def(Number, "hole_edge_spare_mm", "mm", "what the hole nearest to an edge of the glass has beyond twice the thickness", "distance from its edge to that of the leaf − 2 × thickness; does not arise without holes, nor in other glass than toughened", loadsGlassSource, loadsGlassNeeds,
		loadsGlass(1, func(g loads.GlassHoleGaps) float64 { return g.Edge }, loadsHoleEdge)),
	def(Number, "hole_corner_spare_mm", "mm", "what the hole nearest to a corner of the glass has beyond six times the thickness", "distance from its edge to the corner − 6 × thickness; does not arise without holes, nor in other glass than toughened", loadsGlassSource, loadsGlassNeeds,
		loadsGlass(1, func(g loads.GlassHoleGaps) float64 { return g.Corner }, loadsHoleCorner)),
	def(Number, "hole_web_spare_mm", "mm", "what the two nearest holes in the glass have beyond twice the thickness", "distance between their edges − 2 × thickness; does not arise for a single hole, nor in other glass than toughened", loadsGlassSource, loadsGlassNeeds,
		loadsGlass(2, func(g loads.GlassHoleGaps) float64 { return g.Between }, loadsHoleWeb)),
	def(Number, "hole_diameter_spare_mm", "mm", "how much wider the smallest hole is than the glass is thick", "diameter − thickness; does not arise without holes, nor in other glass than toughened", "EN 12150-1 (secondary)", []string{"glass_holes", "glass_holes.0.diameter_mm", "glass_thickness_mm", "glass"},
		func(c *Context, s *Subject) Value {
			zero := func(loads.GlassHoleGaps) float64 { return 0 }
			v := loadsGlass(1, zero, func(it *jobfile.Item, i int) (float64, bool) {
				d := it.GlassHoles[i].DiameterMM
				if d == nil {
					return 0, false
				}
				return *d, true
			})(c, s)
			if v.State != Known {
				return v
			}
			least, err := loads.GlassHoleMin(*s.Item.GlassThicknessMM)
			if err != nil {
				return unknown().note(err.Error())
			}
			return number(v.Num - least).at(v.At())
		}),
)

// loadsGroove calls f with what the groove leaves of the panel.
func loadsGroove(f func(loads.Groove) float64, symbol string) func(*Context, *Subject) Value {
	return func(c *Context, s *Subject) Value {
		face := c.Face(s.Item.Face)
		if face == nil || face.Panel == nil || face.Panel.ThicknessMM == nil || s.Item.GrooveDepthMM == nil {
			return unknown()
		}
		t, d := *face.Panel.ThicknessMM, *s.Item.GrooveDepthMM
		if d > t {
			return number(0).note("the groove is deeper than the panel")
		}
		g, err := loads.GrooveLeft(t, d)
		if err != nil {
			return unknown().note(err.Error())
		}
		return c.explained(number(100*f(g)), "for a panel that spans freely, across the groove; its facing is left out", func() []string {
			return []string{said("r = t − depth = %s − %s = %s mm; %s = %s (bending of a solid section)", figure(t), figure(d), figure(g.LeftMM), symbol, figure(f(g)))}
		})
	}
}

var _ = register("panel_groove", "a panel with the groove of a heating cable in it", loadsItems("panel_groove", "heating_cable"),
	def(Number, "strength_left_percent", "percent", "bending strength of the panel that the groove leaves", "100 × ((thickness − depth) ÷ thickness)²", "bending of a rectangular section (computed)", []string{"groove_depth_mm", "/panel/thickness_mm", "face"},
		loadsGroove(func(g loads.Groove) float64 { return g.Strength }, "(r/t)²")),
	def(Number, "stiffness_left_percent", "percent", "bending stiffness of the panel that the groove leaves", "100 × ((thickness − depth) ÷ thickness)³", "bending of a rectangular section (computed)", []string{"groove_depth_mm", "/panel/thickness_mm", "face"},
		loadsGroove(func(g loads.Groove) float64 { return g.Stiffness }, "(r/t)³")),
)

// loadsBackground is what the panels of a wall are glued to. Only some backgrounds have a figure: for the others it does not arise.
func loadsBackground(c *Context, s *Subject) (loads.Background, State) {
	if s.Face.Kind != WallFace {
		return "", None
	}
	switch to := c.Job.Room.Walls[s.Face.Wall].FixedTo; to {
	case "":
		return "", Unknown
	case "gypsum_plaster", "plasterboard", "gypsum_fibreboard", "cement_board":
		return loads.Background(to), Known
	}
	return "", None
}

// loadsTileShare is the mass of the tile as a part of what the panel and its background carry. It does not arise where the bed
// is known to be solid.
func loadsTileShare(c *Context, s *Subject) Value {
	tile, state := buildUpLayer(s.Face, "tile")
	if state != Known {
		return Value{State: state}
	}
	if bed, _ := buildUpLayer(s.Face, "tile_bed"); bed != nil && bed.CoveragePercent != nil && *bed.CoveragePercent >= loadsSolidPercent {
		return none()
	}
	if tile.MassKGM2 == nil {
		return unknown()
	}
	layers := []loads.Background{loads.FoamPanel}
	switch b, state := loadsBackground(c, s); state {
	case Unknown:
		return unknown()
	case Known:
		layers = append(layers, b)
	}
	most, err := loads.TilingMax(layers...)
	if err != nil {
		return unknown().note(err.Error())
	}
	share, err := loads.TileShare(*tile.MassKGM2, most)
	if err != nil {
		return unknown().note(err.Error())
	}
	return number(100 * share).worked(func() []string {
		return []string{said("the weakest layer carries %s kg/m²; tile %s kg/m² / %s = %s (BS 5385-1:2018)", figure(most), figure(*tile.MassKGM2), figure(most), figure(share))}
	})
}

// loadsSolidPercent is the share of a tile's back from which on its bed counts as solid (ANSI A108.5, wet areas, secondary).
const loadsSolidPercent = 95

var loadsBackNeeds = []string{"fixed_to"}

var _ = register("face_load", "the finish of a wall or riser as a load on what carries it",
	func(c *Context) []Subject {
		var out []Subject
		for _, f := range c.Faces {
			if f.Kind == WallFace || f.Kind == RiserFace {
				out = append(out, Subject{Kind: "face_load", ID: f.ID, Pointer: f.Pointer, Pos: f.Pos, Face: f})
			}
		}
		return out
	},
	def(Number, "tile_share_percent", "percent", "mass of the tile as a part of what the panel and its background carry", "100 × tile ÷ the least of 60 kg/m² for foam panels and the figure of the background; does not arise where the bed covers 95 % or more",
		"BS 5385-1:2018 (read)", append(append([]string{}, loadsBackNeeds...), buildUpNeeds("tile", "mass_kg_m2")...), loadsTileShare),
	def(Number, "finish_mass_kg_m2", "kg/m²", "mass of the finish with its bed", "bed + tile + 0.5 for grout, or the plaster", "what counts: BS 5385-1:2018 (read); mass of grout: common practice", append([]string{"/build_up/tile/mass_kg_m2", "/build_up/tile_bed/mass_kg_m2"}, buildUpNeeds("lime_plaster", "mass_kg_m2")...), buildUpFinishMass),
	def(Number, "background_carries_kg_m2", "kg/m²", "mass of finish that the background of the panels carries", "gypsum plaster 20, plasterboard 32, gypsum fibreboard 40, cement board 50; does not arise for others", "BS 5385-1:2018, guide figures (read)", loadsBackNeeds, func(c *Context, s *Subject) Value {
		b, state := loadsBackground(c, s)
		if state != Known {
			return Value{State: state}
		}
		kg, err := loads.TilingMax(b)
		if err != nil {
			return unknown().note(err.Error())
		}
		return number(kg)
	}),
)
