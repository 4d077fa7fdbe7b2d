package measure

import (
	"math"

	"wetrule/lint/jobfile"
)

// insertReach is how far apart the lowest and the highest insert are, in mm; it
// does not arise with fewer than two.
func insertReach(list []jobfile.Insert) Value {
	if len(list) < 2 {
		return none()
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range list {
		y := list[i].YMM
		if y == nil {
			return unknown()
		}
		lo, hi = min(lo, *y), max(hi, *y)
	}
	return number(hi - lo)
}

var _ = register("glazed_door", "a glazed door", itemsOf("glazed_door"),
	given(Text, "glass", "", "what glass the leaf is made of", "glass", func(_ *Context, s *Subject) Value { return text(s.Item.Glass) }).oneOf("toughened", "laminated", "float"),
	given(Number, "glass_thickness_mm", "mm", "thickness of the glass", "glass_thickness_mm", func(_ *Context, s *Subject) Value { return num(s.Item.GlassThicknessMM) }),
	given(Flag, "glass_marked", "", "whether the safety mark can be read on the glass", "glass_marked", func(_ *Context, s *Subject) Value { return flag(s.Item.GlassMarked) }),
	given(Text, "swing", "", "which way the door opens", "swing", func(_ *Context, s *Subject) Value { return text(s.Item.Swing) }).oneOf("outward", "inward", "both"),
	given(Text, "latch", "", "what keeps the door shut", "latch", func(_ *Context, s *Subject) Value { return text(s.Item.Latch) }).oneOf("none", "magnet", "roller", "positive_latch", "lock"),
	given(Number, "clear_width_mm", "mm", "clear width of the doorway", "width_mm", func(_ *Context, s *Subject) Value { return num(s.Item.WidthMM) }),
	given(Number, "clear_height_mm", "mm", "clear height of the doorway", "height_mm", func(_ *Context, s *Subject) Value { return num(s.Item.HeightMM) }),
	given(Number, "gap_side_mm", "mm", "gap between the leaf and the frame or wall", "gap_side_mm", func(_ *Context, s *Subject) Value { return num(s.Item.GapSideMM) }),
	given(Number, "gap_floor_mm", "mm", "gap under the leaf", "gap_floor_mm", func(_ *Context, s *Subject) Value { return num(s.Item.GapFloorMM) }),
	def(Number, "insert_count", "", "number of bonded inserts", "inserts counted", "", []string{"inserts"}, insertList(insertCount)),
	def(Text, "insert_adhesive", "", "what bonds the inserts", "as given; does not arise without inserts", "", []string{"adhesive", "inserts"}, insertAdhesive).oneOf(insertAdhesives...),
	given(Number, "profile_length_mm", "mm", "length of the profile that spreads the load", "profile_length_mm", func(_ *Context, s *Subject) Value { return num(s.Item.ProfileLengthMM) }),
	def(Number, "insert_reach_mm", "mm", "height from the lowest to the highest insert", "largest y − smallest y of the inserts; does not arise with fewer than two", "", []string{"inserts"}, insertList(insertReach)),
)
