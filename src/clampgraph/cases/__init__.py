"""What it really was: closed jobs, kept so that each of them makes the next diagnosis better.

`records` says what a closed job is; `store` keeps it, in a file or in a database that several workers share
(`schema` and `migrations` say how, `opening` makes it ready, `faults` puts what goes wrong into a sentence).
`learning` turns what was found into figures, and `calibration` holds what was predicted against what was found.

Nothing is ever changed in the store but to forget a person: a correction is a further record that names the old one.
SQLAlchemy and Alembic stop at this room.
"""
