package wetrule.rules

findings contains ["broken-height", input.steam_outlet.id[i], v] if {
	some i, v in input.steam_outlet.outlet_height_mm
	v > to_number("no number")
}
