"""How things look: glyphs, colours. Nothing here knows what is drawn."""
