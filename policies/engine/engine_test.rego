package wetrule.rules_test

import data.wetrule.rules

# One row a comparison, for a kind of subject made up for the tests.
row(limit) := {"id": "r", "kind": "thing", "measure": "m", "limit": limit, "when": [], "arising": []}

column(values) := {"thing": {"id": ["a", "b", "c"], "m": values}, "unknown": {}}

test_at_least if {
	found := rules.findings with input as column([9, 10, null]) with data.wetrule.checks as {"at_least": {"thing": [row(10)]}}
	found == {["r", "a", 9]}
}

test_above if {
	found := rules.findings with input as column([10, 11, null]) with data.wetrule.checks as {"above": {"thing": [row(10)]}}
	found == {["r", "a", 10]}
}

test_at_most if {
	found := rules.findings with input as column([10, 11, null]) with data.wetrule.checks as {"at_most": {"thing": [row(10)]}}
	found == {["r", "b", 11]}
}

test_below if {
	found := rules.findings with input as column([9, 10, null]) with data.wetrule.checks as {"below": {"thing": [row(10)]}}
	found == {["r", "b", 10]}
}

test_is if {
	check := {"id": "r", "kind": "thing", "measure": "m", "is": ["copper"], "when": [], "arising": []}
	found := rules.findings with input as column(["copper", "plastic", null]) with data.wetrule.checks as {"is": {"thing": [check]}}
	found == {["r", "b", "plastic"]}
}

test_limit_that_is_a_measure if {
	job := {"thing": {"id": ["a", "b", "c", "d"], "m": [9, 10, null, 1], "l": [10, 10, 10, null]}}
	check := {"id": "r", "kind": "thing", "measure": "m", "limit": "l", "when": [], "arising": ["l"]}
	found := rules.findings with input as job with data.wetrule.checks as {"at_least_measure": {"thing": [check]}}
	found == {["r", "a", 9]}
	other := rules.findings with input as object.union(job, {"thing": {"m": [11, 10, null, 99]}}) with data.wetrule.checks as {"at_most_measure": {"thing": [check]}}
	other == {["r", "a", 11]}
}

test_conditions if {
	job := object.union(column([1, 1, 1]), {"thing": {"w": ["x", "y", null], "n": [5, 6, null]}})
	check := object.union(row(10), {"when": [{"measure": "w", "is": ["x", "y"]}, {"measure": "n", "low": 6, "high": 7}]})
	found := rules.findings with input as job with data.wetrule.checks as {"at_least": {"thing": [check]}}
	found == {["r", "b", 1]}
}

# Cells in doubt bring all that judging them takes.
doubted(way, cell) := found if {
	found := rules.findings with input as {"doubts": {way: [cell]}}
}

test_cells_in_doubt_alone if {
	job := object.union(column([9, 8, 7]), {"doubts": {"at_least": [[["r", "b", 8], 8, 9, [], []]]}})
	found := rules.findings with input as job with data.wetrule.checks as {"at_least": {"thing": [row(10)]}}
	found == {["r", "b", 8]}
}

# A cell that is listed is judged all the same.
test_cells_in_doubt_may_conform if {
	job := object.union(column([9, 8, null]), {"doubts": {"at_least": [[["r", "a", 9], 9, 9, [], []]], "deciding": [[["r", "a"], "known", [], [], []]]}})
	found := rules.findings with input as job
	found == set()
}

cells := [
	{"way": "at_least", "found": {9: true, 10: false, 11: false}, "limit": 10},
	{"way": "above", "found": {9: true, 10: true, 11: false}, "limit": 10},
	{"way": "at_most", "found": {9: false, 10: false, 11: true}, "limit": 10},
	{"way": "below", "found": {9: false, 10: true, 11: true}, "limit": 10},
	{"way": "is", "found": {"copper": false, "plastic": true}, "limit": ["copper"]},
]

# The conditions must hold: each asks for one value, or each stands for itself.
test_cells_in_doubt[way] if {
	some {"way": way, "found": found, "limit": limit} in cells
	every v, is in found {
		f := ["r", "a", v]
		said := {f | is}
		doubted(way, [f, v, limit, [], []]) == said
		doubted(way, [f, v, limit, ["x", true], ["x", true]]) == said
		doubted(way, [f, v, limit, ["x", true], ["x", false]]) == set()
		doubted("conditional", [way, f, v, limit, ["known"], [[{"is": ["x", "y"]}, "known", "y"]]]) == said
		doubted("conditional", [way, f, v, limit, ["known"], [[{"is": ["x", "y"]}, "known", "z"]]]) == set()
		doubted("conditional", [way, f, v, limit, ["known"], [[{"low": 1, "high": 2}, "known", 2]]]) == said
		doubted("conditional", [way, f, v, limit, ["known"], [[{"low": 1, "high": 2}, "known", 3]]]) == set()
		doubted("conditional", [way, f, v, limit, ["known"], [[{"low": 1, "high": 2}, "unknown", null]]]) == set()
		doubted("conditional", [way, f, v, limit, ["known", "none"], []]) == set()
	}
}

test_cells_that_lack_what_decides if {
	said := {["r", "a"]}
	doubted("deciding", [["r", "a"], "unknown", ["known", "unknown"], [true], [true]]) == said
	doubted("deciding", [["r", "a"], "unknown", ["known"], [true], [false]]) == set()
	doubted("deciding", [["r", "a"], "unknown", ["none"], [], []]) == set()
	doubted("deciding", [["r", "a"], "none", [], [], []]) == set()
	doubted("deciding_perhaps", [["r", "a"], "unknown", ["unknown"], [[{"is": ["x", "y"]}, "known", "y"], [{"is": [true]}, "unknown", null]]]) == said
	doubted("deciding_perhaps", [["r", "a"], "unknown", [], [[{"is": ["x", "y"]}, "known", "z"], [{"is": [true]}, "unknown", null]]]) == set()
	doubted("deciding_perhaps", [["r", "a"], "unknown", [], [[{"is": [true]}, "none", null]]]) == set()
	doubted("deciding_perhaps", [["r", "a"], "unknown", ["none"], []]) == set()
	doubted("deciding_perhaps", [["r", "a"], "known", [], []]) == set()
}

test_cells_that_may_apply if {
	limits := {"low": 10, "high": 20, "low_open": false, "high_open": false}
	perhaps := [[{"is": ["x"]}, "unknown", null]]
	said := {["r", "a"]}
	doubted("applying", [["r", "a"], 9, limits, [], [], ["known"], perhaps]) == said
	doubted("applying", [["r", "a"], 15, limits, [], [], ["known"], perhaps]) == set()
	doubted("applying", [["r", "a"], 15, limits, [16], [], ["known"], perhaps]) == said
	doubted("applying", [["r", "a"], 15, limits, [], [14], ["known"], perhaps]) == said
	doubted("applying", [["r", "a"], 15, limits, [15], [15], ["known"], perhaps]) == set()
	doubted("applying", [["r", "a"], "x", {"is": ["x"]}, [], [], ["known"], perhaps]) == set()
	doubted("applying", [["r", "a"], "y", {"is": ["x"]}, [], [], ["known"], perhaps]) == said
	doubted("applying", [["r", "a"], 9, limits, [], [], ["none"], perhaps]) == set()
	doubted("applying", [["r", "a"], 9, limits, [], [], ["known"], [[{"is": ["x"]}, "known", "x"]]]) == set()
	doubted("applying", [["r", "a"], 9, limits, [], [], ["known"], array.concat(perhaps, [[{"is": ["x"]}, "known", "y"]])]) == set()
}

# Nothing but the value says whether the row applies.
test_always if {
	found := rules.findings with input as column([9, 10, null]) with data.wetrule.checks as {"at_least": {"thing": [object.union(row(10), {"always": true})]}}
	found == {["r", "a", 9]}
	job := object.union(column([1, null, null]), {"unknown": {"thing": {"m": [1]}}, "stage": 1})
	lacking := rules.findings with input as job with data.wetrule.needing.deciding as {"thing": {"m": [needs({"always": true})]}} with data.wetrule.checks as {}
	lacking == {["r", "b"]}
}

test_no_subject if {
	found := rules.findings with input as {"unknown": {}} with data.wetrule.checks as {"at_least": {"thing": [row(10)]}}
	found == set()
}

# Missing data is never conformity.
needs(more) := object.union({"id": "r", "kind": "thing", "measure": "m", "when": [], "arising": [], "from": 1}, more)

test_missing_value if {
	job := object.union(column([1, null, null]), {"unknown": {"thing": {"m": [1]}}, "stage": 1})
	found := rules.findings with input as job with data.wetrule.needing.deciding as {"thing": {"m": [needs({})]}} with data.wetrule.checks as {}
	found == {["r", "b"]}
}

test_not_asked_yet if {
	job := object.union(column([1, null, null]), {"unknown": {"thing": {"m": [1]}}, "stage": 0})
	found := rules.findings with input as job with data.wetrule.needing.deciding as {"thing": {"m": [needs({})]}} with data.wetrule.checks as {}
	found == set()
}

test_missing_limit if {
	job := {"thing": {"id": ["a", "b"], "m": [1, null], "l": [null, null]}, "unknown": {"thing": {"l": [0, 1]}}, "stage": 2}
	found := rules.findings with input as job with data.wetrule.needing.deciding as {"thing": {"l": [needs({"arising": ["m"]})]}} with data.wetrule.checks as {}
	found == {["r", "a"]}
}

# What is not known arises, as far as can be told.
test_missing_value_and_limit if {
	job := {"thing": {"id": ["a", "b"], "m": [null, null], "l": [null, null]}, "unknown": {"thing": {"m": [0], "l": [0, 1]}}, "stage": 2}
	found := rules.findings with input as job with data.wetrule.needing.deciding as {"thing": {"l": [needs({"arising": ["m"]})]}} with data.wetrule.checks as {}
	found == {["r", "a"]}
}

test_missing_value_that_cannot_apply if {
	job := {"thing": {"id": ["a", "b", "c"], "m": [null, null, null], "w": ["x", "y", null]}, "unknown": {"thing": {"m": [0, 1, 2], "w": [2]}}, "stage": 1}
	found := rules.findings with input as job with data.wetrule.needing.deciding as {"thing": {"m": [needs({"when": [{"measure": "w", "is": ["x"]}]})]}} with data.wetrule.checks as {}
	found == {["r", "a"], ["r", "c"]}
}

# Whether the row applies is not known; it matters only when the value would not conform.
doubt(more) := needs(object.union({"when": [{"measure": "w", "is": ["x"]}], "low": 10, "high": 20, "low_open": false, "high_open": false, "lowers": [], "uppers": []}, more))

doubtful(value, more) := found if {
	job := {"thing": {"id": ["a"], "m": [value], "w": [null], "l": [12]}, "unknown": {"thing": {"w": [0]}}, "stage": 2}
	found := rules.findings with input as job with data.wetrule.needing.applying as {"thing": {"w": [doubt(more)]}} with data.wetrule.checks as {}
}

test_doubt[name] if {
	some name, tc in {
		"inside": {"value": 15, "more": {}, "settled": true},
		"on the lower limit": {"value": 10, "more": {}, "settled": true},
		"on the upper limit": {"value": 20, "more": {}, "settled": true},
		"below": {"value": 9, "more": {}, "settled": false},
		"above": {"value": 21, "more": {}, "settled": false},
		"on an open lower limit": {"value": 10, "more": {"low_open": true}, "settled": false},
		"on an open upper limit": {"value": 20, "more": {"high_open": true}, "settled": false},
		"exactly the only value": {"value": 10, "more": {"high": 10}, "settled": true},
		"below a measured limit": {"value": 11, "more": {"lowers": ["l"]}, "settled": false},
		"on a measured limit": {"value": 12, "more": {"lowers": ["l"], "uppers": ["l"]}, "settled": true},
		"above a measured limit": {"value": 13, "more": {"uppers": ["l"]}, "settled": false},
	}
	doubtful(tc.value, tc.more) == {["r", "a"] | tc.settled == false}
}

test_doubt_of_a_list if {
	doubtful("copper", {"is": ["copper"]}) == set()
	doubtful("plastic", {"is": ["copper"]}) == {["r", "a"]}
}
