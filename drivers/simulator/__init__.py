"""Machines that are not there: a booth of projectors, its film and its crew, told through the same signals as a real one."""
