"""One module a page: pair, film, pulls, sheet, after."""
