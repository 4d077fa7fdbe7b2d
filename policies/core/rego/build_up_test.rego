package wetrule.rules_test

import data.wetrule.rules

# What the rule on the order of layers says of one face.
order_found(layers) := {[rule, id, value] |
	some [rule, id, value] in rules.findings with input as {"face": {"id": ["north"], "layers": [layers]}}
		with data.wetrule.checks as {}
		with data.wetrule.needing as {}
	rule == "build-up-order"
}

orders_kept := [
	["mesh", "cement", "waterproofing", "tile_bed", "tile"],
	["mesh", "cement", "waterproofing", "lime_plaster"],
	# What is missing is for other rules; what is there stands in order.
	["mesh", "cement", "waterproofing"],
	["cement", "waterproofing", "tile_bed", "tile"],
	["waterproofing", "tile_bed"],
	["mesh"],
	[],
]

orders_broken := [
	["cement", "mesh", "waterproofing", "tile_bed", "tile"],
	["mesh", "waterproofing", "cement", "tile_bed", "tile"],
	["waterproofing", "mesh", "cement", "tile_bed", "tile"],
	["mesh", "cement", "tile_bed", "waterproofing", "tile"],
	["mesh", "cement", "waterproofing", "tile", "tile_bed"],
	["tile", "tile_bed", "waterproofing", "cement", "mesh"],
	# one layer twice
	["mesh", "mesh", "cement", "waterproofing", "tile_bed", "tile"],
	["mesh", "cement", "waterproofing", "waterproofing", "lime_plaster"],
	["mesh", "cement", "waterproofing", "tile_bed", "tile", "tile"],
	# tile without a bed
	["mesh", "cement", "waterproofing", "tile"],
	# two finishes
	["mesh", "cement", "waterproofing", "lime_plaster", "tile"],
	["mesh", "cement", "waterproofing", "tile_bed", "lime_plaster"],
	["mesh", "cement", "waterproofing", "tile_bed", "tile", "lime_plaster"],
	["mesh", "cement", "waterproofing", "lime_plaster", "tile_bed", "tile"],
]

test_orders_kept if {
	every layers in orders_kept { order_found(layers) == set() }
}

test_orders_broken if {
	every layers in orders_broken { order_found(layers) == {["build-up-order", "north", layers]} }
}

test_order_of_layers_that_are_not_known_is_not_judged if {
	order_found(null) == set()
}

test_each_face_is_judged_by_its_own_layers if {
	found := rules.findings with input as {"face": {
		"id": ["north", "floor", "ceiling"],
		"layers": [["mesh", "cement"], ["cement", "mesh"], null],
	}}
		with data.wetrule.checks as {}
		with data.wetrule.needing as {}
	found == {["build-up-order", "floor", ["cement", "mesh"]]}
}
