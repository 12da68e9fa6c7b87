package toolpath

// rise is called at each moving extrusion that ends above all earlier ones.
func (m *machine) rise(z Length, climbing bool) error {
	m.top = z
	if !climbing {
		return m.begin(1, z, z-m.layer.Z)
	}
	// A spiral: the layers begun on the way are as high as the one before, however far apart its moves are.
	if m.height <= 0 {
		return nil
	}
	if n := (z - m.layer.Z) / m.height; n > 0 {
		return m.begin(int(n), m.layer.Z+n*m.height, m.height)
	}
	return nil
}

// begin begins n layers, of which this extrusion belongs to the last.
func (m *machine) begin(n int, z, height Length) error {
	if m.opts.Until.kind == afterLayer && m.layer.Layer+n > m.opts.Until.layer {
		return errReached
	}
	if m.layer.Layer > 0 { // what was extruded before any layer belongs to the first
		if err := m.endLayer(); err != nil {
			return err
		}
	}
	m.layer = Layer{Layer: m.layer.Layer + n, Z: z, Line: m.file.Lines}
	m.height = height
	return nil
}

// endLayer adds up the layer last begun and tells it.
func (m *machine) endLayer() error {
	layer := m.layer
	layer.Layer = max(layer.Layer, 1)
	for _, t := range m.tools {
		if t == nil || t.layer == (Use{}) {
			continue
		}
		if t.FirstLayer == 0 {
			t.FirstLayer = layer.Layer
		}
		t.LastLayer = layer.Layer
		t.Use.add(&t.layer)
		if m.opts.Layer != nil {
			layer.Tools = append(layer.Tools, Tool{Tool: t.Tool.Tool, Use: t.layer, FirstLayer: layer.Layer, LastLayer: layer.Layer})
		}
		t.layer = Use{}
		m.file.Layers = layer.Layer
	}
	if len(layer.Tools) > 0 {
		return m.opts.Layer(layer)
	}
	return nil
}
