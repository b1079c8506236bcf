"""The session's sheet and the proof of pairing: their contents, as HTML and as PDF."""
