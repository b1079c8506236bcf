"""A book in trouble: what is wrong with it, what can be saved, film that has moved."""
