"""Pictures of an assembly as SVG: the circuit in symbols after ISO 1219-1, phase by phase.

`layout` places positions in bands, `symbols` knows the shapes, `circuit` puts them together, `svg` writes.
Which symbol a component type has is said in the data; a type without one is drawn as a plain box.
"""
