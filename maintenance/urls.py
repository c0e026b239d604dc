"""Addresses of machines, checks, jobs, drives and due work."""

from django.urls import path

from maintenance.views import due, machine_form, machine_list

app_name = "maintenance"
urlpatterns = [
    path("machines", machine_list.machine_list, name="machine_list"),
    path("machines/new", machine_form.add_machine, name="add_machine"),
    path("machines/<int:pk>/edit", machine_form.edit_machine, name="edit_machine"),
    path("due", due.due_list, name="due_list"),
]
