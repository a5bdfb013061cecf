"""Bring descriptions in from spreadsheets, write them out again, and start a new one.

`columns` declares one table for each kind of thing; `sheets` reads CSV files as they come out of spreadsheets;
`cells` turns a cell into a term and back; `names` finds what a cell refers to.
`importing` and `exporting` are the two directions of the same declarations; `starting` writes a starter pack.
"""

from clampgraph.answers.authoring.exporting import export_pack
from clampgraph.answers.authoring.importing import ImportAnswer, ImportOptions, import_parts
from clampgraph.answers.authoring.starting import new_assembly

__all__ = ["ImportAnswer", "ImportOptions", "export_pack", "import_parts", "new_assembly"]
