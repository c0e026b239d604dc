"""Addresses of machines, checks, jobs, drives and due work."""

from django.urls import URLPattern

app_name = "maintenance"
urlpatterns: list[URLPattern] = []
