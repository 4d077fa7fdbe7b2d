# METADATA
# title: Evaluator of rules that are rows of data
# description: |
#  Rows come as data.wetrule.checks (by comparison, then by kind of subject) and data.wetrule.needing (by what is lacking when a measure is not known,
#  deciding or applying, then by kind and by that measure). Measures come as input: for each kind the column id and a column a measure, null where
#  there is no value; unknown holds the indices of the values that the job does not give, by kind and measure. A row asks for
#  what is not known only from its stage on.
#  What is looked at are cells: a row, index and id of a subject, and the value or the measure that is not known. input.doubts, when it is there, lists
#  those that are in doubt; the others can't have a finding. Without it every cell is looked at.
#  The answer is one set. [rule, subject, value] does not conform; [rule, subject] can't be shown.
package wetrule.rules

import data.wetrule.checks
import data.wetrule.needing

doubts := input.doubts

doubts := object.union(every_value, everything_unknown) if not input.doubts

every_value[comparison] := [[c, i, id, v] |
	some kind, list in kinds
	some c in list
	some i, id in input[kind].id
	v := input[kind][c.measure][i]
	v != null
] if {
	some comparison, kinds in checks
}

everything_unknown[why] := [[c, i, id, m] |
	some kind, columns in input.unknown
	some m, cells in columns
	some c in kinds[kind][m]
	c.from <= input.stage
	some i in cells
	id := input[kind].id[i]
] if {
	some why, kinds in needing
}

# below a limit that is itself allowed
findings contains [c.id, id, v] if {
	some [c, i, id, v] in doubts.at_least
	v < c.limit
	applies(c, i)
}

# at or below a limit that is not allowed
findings contains [c.id, id, v] if {
	some [c, i, id, v] in doubts.above
	v <= c.limit
	applies(c, i)
}

# above a limit that is itself allowed
findings contains [c.id, id, v] if {
	some [c, i, id, v] in doubts.at_most
	v > c.limit
	applies(c, i)
}

# at or above a limit that is not allowed
findings contains [c.id, id, v] if {
	some [c, i, id, v] in doubts.below
	v >= c.limit
	applies(c, i)
}

# not one of the allowed values
findings contains [c.id, id, v] if {
	some [c, i, id, v] in doubts.is
	not v in c.is
	applies(c, i)
}

# below a limit that is a measure of the same subject
findings contains [c.id, id, v] if {
	some [c, i, id, v] in doubts.at_least_measure
	limit := input[c.kind][c.limit][i]
	limit != null
	v < limit
	applies(c, i)
}

# above a limit that is a measure of the same subject
findings contains [c.id, id, v] if {
	some [c, i, id, v] in doubts.at_most_measure
	limit := input[c.kind][c.limit][i]
	limit != null
	v > limit
	applies(c, i)
}

# a measure that decides is not known
findings contains [c.id, id] if {
	some [c, i, id, m] in doubts.deciding
	i in input.unknown[c.kind][m]
	may_apply(c, i)
}

# whether the row applies is not known, and the value would not conform
findings contains [c.id, id] if {
	some [c, i, id, m] in doubts.applying
	i in input.unknown[c.kind][m]
	may_apply(c, i)
	not kept(c, i)
}

applies(c, _) if c.always

applies(c, i) if {
	not c.always
	every w in c.when { meets(w, input[c.kind][w.measure][i]) }
	every m in c.arising { arises(m, c.kind, i) }
}

may_apply(c, _) if c.always

may_apply(c, i) if {
	not c.always
	every w in c.when { possible(w, c.kind, i) }
	every m in c.arising { arises(m, c.kind, i) }
}

meets(w, v) if v in w.is

meets(w, v) if {
	v != null
	v >= w.low
	v <= w.high
}

possible(w, kind, i) if meets(w, input[kind][w.measure][i])

possible(w, kind, i) if i in input.unknown[kind][w.measure]

arises(m, kind, i) if input[kind][m][i] != null

arises(m, kind, i) if i in input.unknown[kind][m]

kept(c, i) if input[c.kind][c.measure][i] in c.is

kept(c, i) if {
	v := input[c.kind][c.measure][i]
	v != null
	within(c, v)
	every m in c.lowers { v >= input[c.kind][m][i] }
	every m in c.uppers { v <= input[c.kind][m][i] }
}

within(c, v) if {
	v > c.low
	v < c.high
}

within(c, v) if {
	v == c.low
	not c.low_open
	v <= c.high
	not v == c.high
}

within(c, v) if {
	v == c.high
	not c.high_open
	v >= c.low
	not v == c.low
}

within(c, v) if {
	v == c.low
	v == c.high
}
