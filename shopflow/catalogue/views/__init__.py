"""The pages of the set-up. All are the office's alone."""
