"""The addresses of the whole site."""

from django.urls import include, path

urlpatterns = [
    path("", include("reports.urls")),
    path("", include("maintenance.urls")),
    path("", include("plant.urls")),
]

handler403 = "plant.http.refused"
handler500 = "plant.http.broken"
