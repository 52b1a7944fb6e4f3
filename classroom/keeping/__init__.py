"""Backups: what is kept of an installation in one file, and how it comes back."""
