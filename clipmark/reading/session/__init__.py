"""What one session says: what happened, what could be seen, which insertions, how it ended."""
