"""Who must know by calendar: files, a feed for the web, a sync with a server."""
