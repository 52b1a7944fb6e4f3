"""Template tags of the school's side."""
