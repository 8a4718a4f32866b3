"""What is typed or chosen at a bench, checked before a service hears of it."""
