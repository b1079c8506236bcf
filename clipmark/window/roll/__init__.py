"""The log roll: time runs down it, his acts at the left, hers at the right."""
