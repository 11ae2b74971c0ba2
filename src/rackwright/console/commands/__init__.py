"""Keys with a subject of their own: files, the venue, papers."""
