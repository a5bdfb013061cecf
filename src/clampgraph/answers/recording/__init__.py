"""What it really was: closed jobs are recorded, listed, learned from, and held against what was predicted.

`cases` holds the question and the answer field by field; `record` checks a job against the graph and keeps it,
`listing` tells what is kept and forgets a person, `lessons` turns cases into figures (with `last_links`, which says
what a case tells of), `figures` tells them, and `calibrating` compares predictions with what was found.
"""
