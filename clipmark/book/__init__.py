"""What the keeper decided, in one SQLite file. Imports ground to draft; never reading, report, window.

Everybody uses three doors: `model` (the frozen values), `store` (the one writer, `Book`), `errors`. Behind them:
`meaning` (what acts and calls are and what the book takes), `forms` (values as rows, JSON and packed traces), `file`
(the SQLite file, its version, its backups), `steps` (what can be asked and changed, and taken back). Beside them, on
top of the store: `exchange` (the whole book as JSON and CSV), `care` (what is wrong, what can be saved), `film` (from
a film file to what the book keeps of it).
"""
