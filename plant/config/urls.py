"""The addresses of the whole site."""

from django.urls import include, path, register_converter
from django.urls.converters import IntConverter


class JobKey(IntConverter):
    """A job's key: those of practice lie below nought (maintenance/models/job.py)."""

    regex = "-?[0-9]+"


register_converter(JobKey, "job")
urlpatterns = [
    path("", include("reports.urls")),
    path("", include("maintenance.urls")),
    path("", include("plant.urls")),
]

handler403 = "plant.http.refused"
handler500 = "plant.http.broken"
