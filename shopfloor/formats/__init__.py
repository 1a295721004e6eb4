"""How dates and times are written: Django takes these before its own."""
