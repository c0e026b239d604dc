"""Prints line N of the code in the README's Quick start, so that what is run is what is read."""

import re
import sys
from pathlib import Path

readme = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")
section = re.search(r"^## Quick start\n(.*?)(?=^## )", readme, re.M | re.S)
blocks = re.findall(r"^```\w*\n(.*?)^```", section[1] if section else "", re.M | re.S)
lines = [line for block in blocks for line in block.splitlines() if line.strip()]
if len(lines) != 2:
    sys.exit(f"Quick start must hold exactly two lines of code; it holds {len(lines)}.")
print(lines[int(sys.argv[1]) - 1])
