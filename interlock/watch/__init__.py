"""The desk: a pure fold over readings, ticks and operator actions. No clock, no port, no chance in here."""
