"""How many passwords are worked on at once: each takes a tenth of a second and 100 MiB."""

from threading import BoundedSemaphore

# Two at a time in each of the two web processes.
hashing = BoundedSemaphore(2)
