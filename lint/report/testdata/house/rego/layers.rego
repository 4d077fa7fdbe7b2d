package wetrule.rules

findings contains ["house-layers", input.face.id[i], layers] if {
	some i, layers in input.face.layers
	layers != null
	layers[count(layers) - 1] != "tile"
}
