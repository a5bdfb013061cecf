"""Work orders in bulk: read in blocks, ranked in batches, kept block by block, on one machine or on many.

`tickets` reads them, `ranking` ranks a block, `journal` keeps what is finished so that a killed run goes on where it
stopped, `cluster` sends blocks to other machines, `triage` puts these together.
Arrow reads and writes the files (extra `fleet`); Dask is needed only where a scheduler is named.
"""
