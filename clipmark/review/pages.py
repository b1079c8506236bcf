"""The pages of the window, in the order of the job."""

PAGES = ("pair", "film", "pulls", "sheet", "after")
