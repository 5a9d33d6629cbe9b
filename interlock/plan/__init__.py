"""What a booth lead works out before the motors start: pure functions on a show."""
