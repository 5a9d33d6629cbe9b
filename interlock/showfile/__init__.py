"""The show file: what a booth lead knows before the motors start.

``show.py`` is what everything else works with (frames, seconds, shares: no text left to interpret);
``models.py`` is what a person may write; ``load.py`` turns the one into the other, with every
mistake reported by its line.
"""
