# METADATA
# title: Evaluator of rules that are rows of data
# description: |
#  Rows come as data.wetrule.checks (by comparison, then by kind of subject) and
#  data.wetrule.needing (by stage from which they ask, kind and measure). Measures come as input: for each kind the
#  column id and a column a measure, null where there is no value; unknown holds the indices of the values that
#  the job does not give, by kind and measure. A row asks for what is not known only from its stage on.
#  input.checks, when it is there, holds those rows that the extremes of the columns leave in doubt; the others can't have a finding
#  and are not looked at.
#  The answer is one set. [rule, subject, value] does not conform; [rule, subject] can't be shown.
package wetrule.rules

import data.wetrule.needing

checks := input.checks

checks := data.wetrule.checks if not input.checks

# below a limit that is itself allowed
findings contains [c.id, input[kind].id[i], v] if {
	some kind, list in checks.at_least
	some c in list
	some i, v in input[kind][c.measure]
	v < c.limit
	v != null
	applies(c, kind, i)
}

# at or below a limit that is not allowed
findings contains [c.id, input[kind].id[i], v] if {
	some kind, list in checks.above
	some c in list
	some i, v in input[kind][c.measure]
	v <= c.limit
	v != null
	applies(c, kind, i)
}

# above a limit that is itself allowed
findings contains [c.id, input[kind].id[i], v] if {
	some kind, list in checks.at_most
	some c in list
	some i, v in input[kind][c.measure]
	v != null
	v > c.limit
	applies(c, kind, i)
}

# at or above a limit that is not allowed
findings contains [c.id, input[kind].id[i], v] if {
	some kind, list in checks.below
	some c in list
	some i, v in input[kind][c.measure]
	v != null
	v >= c.limit
	applies(c, kind, i)
}

# not one of the allowed values
findings contains [c.id, input[kind].id[i], v] if {
	some kind, list in checks.is
	some c in list
	some i, v in input[kind][c.measure]
	v != null
	not v in c.is
	applies(c, kind, i)
}

# below a limit that is a measure of the same subject
findings contains [c.id, input[kind].id[i], v] if {
	some kind, list in checks.at_least_measure
	some c in list
	limits := input[kind][c.limit]
	some i, v in input[kind][c.measure]
	v != null
	limits[i] != null
	v < limits[i]
	applies(c, kind, i)
}

# above a limit that is a measure of the same subject
findings contains [c.id, input[kind].id[i], v] if {
	some kind, list in checks.at_most_measure
	some c in list
	limits := input[kind][c.limit]
	some i, v in input[kind][c.measure]
	v != null
	limits[i] != null
	v > limits[i]
	applies(c, kind, i)
}

# a measure that the row needs is not known
findings contains [c.id, input[kind].id[i]] if {
	some kind, columns in input.unknown
	some measure, rows in columns
	some c in needing[input.stage][kind][measure]
	some i in rows
	every w in c.when { possible(w, kind, i) }
	every m in c.arising { arises(m, kind, i) }
	not settled(c, kind, i)
}

applies(c, kind, i) if {
	every w in c.when { meets(w, input[kind][w.measure][i]) }
	every m in c.arising { arises(m, kind, i) }
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

# Only whether the row applies is not known, and the value would conform anyhow.
settled(c, kind, i) if {
	not c.decides
	kept(c, kind, i)
}

kept(c, kind, i) if {
	v := input[kind][c.measure][i]
	v in c.is
}

kept(c, kind, i) if {
	v := input[kind][c.measure][i]
	v != null
	within(c, v)
	every m in c.lowers { v >= input[kind][m][i] }
	every m in c.uppers { v <= input[kind][m][i] }
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
