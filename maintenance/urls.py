"""Addresses of machines, checks, jobs, drives and due work."""

from django.urls import path

from maintenance.views import due, machine_list

app_name = "maintenance"
urlpatterns = [
    path("machines", machine_list.machine_list, name="machine_list"),
    path("due", due.due_list, name="due_list"),
]
