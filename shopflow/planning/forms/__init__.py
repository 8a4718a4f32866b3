"""What the office types for the plan."""
