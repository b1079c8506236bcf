"""What a session or a book is given away as: tables, JSON, chapters, calendar, cuts."""
