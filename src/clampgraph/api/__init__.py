"""HTTP: parse, call an answer function, return its model; nothing is computed here."""
