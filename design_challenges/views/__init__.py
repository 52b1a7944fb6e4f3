"""Thin views by audience: the team's tablet, the teacher, the class board, paper."""
