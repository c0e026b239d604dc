"""The working of each part of a drive, for ``plant.drives.working`` alone."""
