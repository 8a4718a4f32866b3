"""Photos as they are sent, shown, numbered and counted."""
