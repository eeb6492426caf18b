"""One module per page; each route parses, calls one service, renders."""
