"""What can be shown of a session: the sheet, figures, tables, stills, exports."""
