# METADATA
# title: Evaluator of rules that are rows of data
# description: |
#  Rows come as data.wetrule.checks (by comparison, then by kind of subject) and data.wetrule.needing (by what is lacking when a measure is not known,
#  deciding or applying, then by kind and by that measure). Measures come as input: for each kind the column id and a column a measure, null where
#  there is no value; unknown holds the indices of the values that the job does not give, by kind and measure. A row asks for
#  what is not known only from its stage on.
#  What is looked at are cells: a row with one subject. input.doubts, when it is there, lists those that are in doubt; the others can't have a
#  finding. Such a cell brings all that judging it takes: what is said if it is found, the value, the limit, and twice the values of the conditions,
#  those that the row asks for and those of the subject. Where a row asks for more than one value or for a range, when lists each condition with the state
#  and the value of its measure instead. States are known, unknown, and none where a measure does not arise; others are those of the other measures that
#  must arise. Without input.doubts every row is looked at with every subject.
#  The answer is one set. [rule, subject, value] does not conform; [rule, subject] can't be shown.
package wetrule.rules

import data.wetrule.checks
import data.wetrule.needing

# below a limit that is itself allowed
findings contains f if {
	some [f, v, limit, when, when] in input.doubts.at_least
	v < limit
}

# at or below a limit that is not allowed
findings contains f if {
	some [f, v, limit, when, when] in input.doubts.above
	v <= limit
}

# above a limit that is itself allowed
findings contains f if {
	some [f, v, limit, when, when] in input.doubts.at_most
	v > limit
}

# at or above a limit that is not allowed
findings contains f if {
	some [f, v, limit, when, when] in input.doubts.below
	v >= limit
}

# not one of the allowed values
findings contains f if {
	some [f, v, allowed, when, when] in input.doubts.is
	not v in allowed
}

# one of these, where a condition allows more than one value
findings contains f if {
	some [comparison, f, v, limit, others, when] in input.doubts.conditional
	beyond(comparison, v, limit)
	not "none" in others
	every c in when { meets(c[0], c[2]) }
}

# a measure that decides is not known
findings contains f if {
	some [f, "unknown", others, when, when] in input.doubts.deciding
	not "none" in others
}

# the same, where a condition allows more than one value or is not known either
findings contains f if {
	some [f, "unknown", others, when] in input.doubts.deciding_perhaps
	not "none" in others
	every c in when { may_meet(c) }
}

# whether the row applies is not known, and the value would not conform
findings contains f if {
	some [f, v, row, lowers, uppers, others, when] in input.doubts.applying
	some [_, "unknown", _] in when
	not "none" in others
	every c in when { may_meet(c) }
	not allows(row, v, lowers, uppers)
}

# every cell
findings contains f if {
	not input.doubts
	some f in every_finding
}

beyond("at_least", v, limit) if v < limit

beyond("above", v, limit) if v <= limit

beyond("at_most", v, limit) if v > limit

beyond("below", v, limit) if v >= limit

beyond("is", v, allowed) if not v in allowed

may_meet(c) if c[1] == "unknown"

may_meet(c) if meets(c[0], c[2])

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
every_finding contains [c.id, id, v] if {
	some [c, i, id, v] in every_value.at_least
	v < c.limit
	applies(c, i)
}

# at or below a limit that is not allowed
every_finding contains [c.id, id, v] if {
	some [c, i, id, v] in every_value.above
	v <= c.limit
	applies(c, i)
}

# above a limit that is itself allowed
every_finding contains [c.id, id, v] if {
	some [c, i, id, v] in every_value.at_most
	v > c.limit
	applies(c, i)
}

# at or above a limit that is not allowed
every_finding contains [c.id, id, v] if {
	some [c, i, id, v] in every_value.below
	v >= c.limit
	applies(c, i)
}

# not one of the allowed values
every_finding contains [c.id, id, v] if {
	some [c, i, id, v] in every_value.is
	not v in c.is
	applies(c, i)
}

# below a limit that is a measure of the same subject
every_finding contains [c.id, id, v] if {
	some [c, i, id, v] in every_value.at_least_measure
	limit := input[c.kind][c.limit][i]
	limit != null
	v < limit
	applies(c, i)
}

# above a limit that is a measure of the same subject
every_finding contains [c.id, id, v] if {
	some [c, i, id, v] in every_value.at_most_measure
	limit := input[c.kind][c.limit][i]
	limit != null
	v > limit
	applies(c, i)
}

# a measure that decides is not known
every_finding contains [c.id, id] if {
	some [c, i, id, m] in everything_unknown.deciding
	i in input.unknown[c.kind][m]
	may_apply(c, i)
}

# whether the row applies is not known, and the value would not conform
every_finding contains [c.id, id] if {
	some [c, i, id, m] in everything_unknown.applying
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

kept(c, i) if {
	v := input[c.kind][c.measure][i]
	v != null
	lowers := [input[c.kind][m][i] | some m in c.lowers]
	uppers := [input[c.kind][m][i] | some m in c.uppers]
	allows(c, v, lowers, uppers)
}

allows(c, v, _, _) if v in c.is

allows(c, v, lowers, uppers) if {
	within(c, v)
	every limit in lowers { v >= limit }
	every limit in uppers { v <= limit }
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
