"""Marking: standards, the usual rubrics, the evidence beside a criterion, and what a teacher gives."""
