"""Belt-drive mathematics in plain Python: SI floats in, SI floats out; no web framework."""
