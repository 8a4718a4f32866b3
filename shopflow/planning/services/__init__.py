"""The deeds of planning."""
