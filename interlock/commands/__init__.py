"""The commands, a file each, imported when they are called."""
