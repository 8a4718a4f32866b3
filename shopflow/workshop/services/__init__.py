"""The deeds of the workshop. Every change of a task, an instrument's passage or a snag goes through here."""
