"""Addresses of Today, sheets and lists to take away."""

from django.urls import URLPattern

app_name = "reports"
urlpatterns: list[URLPattern] = []
