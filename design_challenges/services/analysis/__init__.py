"""What a class's numbers say and cannot say: pure functions on exact readings, and one list of claims."""
