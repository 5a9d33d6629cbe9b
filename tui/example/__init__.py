"""Invented shows and moments: for pictures of the screens, for tests, and for looking at them by hand."""
