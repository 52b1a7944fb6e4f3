"""The forms of the school's side."""
