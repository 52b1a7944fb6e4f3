"""Template filters of the challenges."""
