package wetrule.rules

# The layers of a face stand in the wrong order, one of them twice, or on a finish.
findings contains ["build-up-order", input.face.id[i], layers] if {
	some i, layers in input.face.layers
	not layers in {
		# Whole build-ups, which need no closer look.
		["mesh", "cement", "waterproofing", "tile_bed", "tile"],
		["mesh", "cement", "waterproofing", "lime_plaster"],
	}
	layers != null
	build_up_disordered(layers)
}

# What must lie deeper has the lower number. Bed and plaster share one, so that they never stand together.
build_up_depth := {
	"mesh": 1,
	"cement": 2,
	"waterproofing": 3,
	"tile_bed": 4,
	"lime_plaster": 4,
	"tile": 5,
}

build_up_disordered(layers) if {
	some i, inner in layers
	some j, outer in layers
	i < j
	build_up_depth[inner] >= build_up_depth[outer]
}

# Tile without its bed.
build_up_disordered(layers) if {
	"tile" in layers
	not "tile_bed" in layers
}
