"""The real settings on a test's own database, for worker processes that a test starts."""

import os

from plant.config.settings import *  # noqa: F403
from plant.config.settings import DATABASES

DATABASES["default"]["NAME"] = os.environ["TEST_DATABASE"]
