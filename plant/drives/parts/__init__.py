"""The steps of one work-out, for ``plant.drives.workout`` alone."""
