"""One module for each question a user asks: facts and reasoning in, one described answer out.

The command line and HTTP both call these functions, so the same question has the same answer whichever door it came
through. A `Library` carries what is loaded; a request model carries the question; an answer model carries the answer.
"""
