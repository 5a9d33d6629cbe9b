"""Shows and scenarios that run as they are; read through ``importlib.resources.files("configs")``."""
