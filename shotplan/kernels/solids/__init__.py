"""Over columns, prisms, outlines and wires: nearest, hit, drawn."""
