"""Which unit is fitted: candidates from what can be seen, and what to look at next."""
