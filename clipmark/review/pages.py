"""The pages of the window, in the order of the job."""

PAGES = ("start", "pair", "film", "pulls", "sheet", "after")
