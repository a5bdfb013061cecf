"""Does it fit, and what else is swapped: parts, order, steps, verification and the job sheet.

`replacements` holds the questions and answers of a swap; `swap` puts them together from `swap_lines`, `swap_order` and
`swap_steps`, which share one `job`; `workshop` reads items and joints once; `sheet` prints the job.
"""
