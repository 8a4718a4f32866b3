"""The sums of the benches, one module each: form, pure call into `compute`, figures, verdict, picture."""
