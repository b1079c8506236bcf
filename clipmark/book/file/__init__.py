"""The SQLite file: how it is opened, which version it has, what a crash left beside it, its backups."""
