"""Questions to the workshop, each answered with a fixed number of queries."""
