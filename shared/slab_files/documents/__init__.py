"""Writers of what people take away: drawings, papers, calendars, tables."""
