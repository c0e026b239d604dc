"""Pictures to scale, drawn once for screen (SVG) and paper (PDF)."""
