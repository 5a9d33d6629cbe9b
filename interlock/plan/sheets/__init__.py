"""Sheets to print and to carry: how the path is threaded, how it starts, what each house does when.

A sheet is a :class:`~interlock.plan.sheets.document.Sheet`, a list of blocks; ``html.py`` and ``markdown.py``
write any sheet. ``write.py`` makes the files.
"""
