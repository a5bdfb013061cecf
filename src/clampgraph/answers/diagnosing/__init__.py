"""What explains it: from findings at the machine to causes, paths, the next check and a plan.

`diagnosis` holds the question and the answer field by field; `diagnose` puts the answer together from `evidence`
(and `measured` values), `suspects` and `next_steps`, which share one `case`; `telling` puts paths into words.
"""
