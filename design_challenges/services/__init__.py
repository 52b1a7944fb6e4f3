"""Pure functions that the challenges share: numbers in, numbers out, no request and no database."""
