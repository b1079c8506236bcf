"""The whole book for other programs: one JSON file, there and back, and a folder of CSV tables."""
