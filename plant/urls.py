"""Addresses of the register: signing in, label links, imports, the system's health."""

from django.urls import path

from plant.views import sign_in

app_name = "plant"
urlpatterns = [
    path("sign-in", sign_in.sign_in, name="sign_in"),
    path("sign-out", sign_in.sign_out, name="sign_out"),
]
