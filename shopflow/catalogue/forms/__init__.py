"""What the office types into the set-up, checked field by field; rules of the shop are in the services."""
