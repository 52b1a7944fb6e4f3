"""Reads roster files of every kind, plans what they change in a class, and writes results packages."""
