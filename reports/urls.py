"""Addresses of Today and of paper, and of the issue, since a passport goes with it."""

from django.urls import path

from reports.views import issue, sheet, today

app_name = "reports"
urlpatterns = [
    path("", today.today_page, name="today"),
    path("today/prints", today.prints, name="prints"),
    path("paper", sheet.batch_list, name="batch_list"),
    path("paper/new", sheet.ask_batch, name="ask_batch"),
    path("paper/<int:pk>", sheet.batch, name="batch"),
    path("paper/<int:pk>/progress", sheet.batch_progress, name="batch_progress"),
    path("paper/<int:pk>/again", sheet.retry_batch, name="retry_batch"),
    path("paper/<int:pk>/file", sheet.batch_file, name="batch_file"),
    path("sheets/<int:pk>/file", sheet.sheet_file, name="sheet_file"),
    path("machines/<int:pk>/sheet", sheet.ask_sheet, name="ask_sheet"),
    path("machines/<int:pk>/passport", sheet.ask_passport, name="ask_passport"),
    path("machines/<int:pk>/label", sheet.ask_label, name="ask_label"),
    path("machines/<int:pk>/issue", issue.issue, name="issue"),
]
