"""Takes a child, a class or old classes out of the database for good: the one sanctioned delete."""
