"""Addresses of the register: signing in, label links, imports, the system's health."""

from django.urls import URLPattern

app_name = "plant"
urlpatterns: list[URLPattern] = []
