"""Where in a film anything moves, without an outline: from packet sizes, from keyframes, from frames in between."""
