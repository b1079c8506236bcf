"""Film in, exact frames and sound out. Imports the ground only.

`open_film` is the one door to film files, `clip` tells what a file is. Below them: `index` (which frames there are),
`frames` (the pictures themselves), `sound`.
"""
