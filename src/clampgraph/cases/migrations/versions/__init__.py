"""One module for each step, named by what it does."""
