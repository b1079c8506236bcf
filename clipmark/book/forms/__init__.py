"""The forms that the book's values are kept in: rows of tables, plain JSON, packed traces."""
