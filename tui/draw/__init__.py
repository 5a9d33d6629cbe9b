"""Pure drawing: state and a size in, rows of styled text out. Tested without a terminal."""
