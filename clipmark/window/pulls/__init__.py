"""The Pulls page: go through the flags and call each."""
