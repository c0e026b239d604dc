"""Pictures to scale, drawn once for screen (SVG) and paper (PDF)."""

from reportlab import rl_config

# Every stroke of ours is built by one module; asking each of its figures whether it is a number
# took as long as the drawing. To be said before the library's shapes are loaded.
rl_config.shapeChecking = 0
