"""The domain of Longlace: one print, threaded through many projectors.

Nothing in here knows a terminal or a port, and nothing but :mod:`interlock.clock` reads the time
(``service`` and ``cli`` are the composition root and sit on top).
"""
