"""The screens: they read frozen state, send operator actions, and know no driver."""
