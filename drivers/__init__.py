"""What can be wired to a machine: one file or folder for each kind of adapter.

Drivers speak :mod:`interlock.signals` and know neither the desk nor the screens.
"""
