"""Addresses of Today, paper, messages and calendars, and of the issue with its passport."""

from django.urls import path

from reports.views import (
    bundle,
    erasure,
    feed,
    issue,
    machine_chain,
    message,
    note,
    sealed,
    sheet,
    today,
)

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
    path("jobs/<int:pk>/sheet", sheet.ask_job_sheet, name="ask_job_sheet"),
    path("machines/<int:pk>/passport", sheet.ask_passport, name="ask_passport"),
    path("machines/<int:pk>/label", sheet.ask_label, name="ask_label"),
    path("machines/<int:pk>/records.jsonl", machine_chain.machine_records, name="machine_records"),
    path("machines/<int:pk>/bundle", bundle.ask_bundle, name="ask_bundle"),
    path("machines/<int:pk>/issue", issue.issue, name="issue"),
    path("messages", message.messages_page, name="messages"),
    path("messages/proof", message.prove_address, name="prove_address"),
    path("messages/proof/ask", message.ask_proof, name="ask_proof"),
    path("messages/note/withdraw", note.withdraw_note, name="withdraw_note"),
    path("messages/calendars/new", feed.add_feed, name="add_feed"),
    path("messages/calendars/withdraw", feed.withdraw_feed, name="withdraw_feed"),
    path("sealed", sealed.sealed, name="sealed"),
    path("note/<str:code>", note.note, name="note"),
    path("calendar/<str:code>.ics", feed.feed, name="feed"),
    path("people/<int:pk>", erasure.person, name="person"),
    path("people/<int:pk>/erasure", erasure.ask_erasure, name="ask_erasure"),
    path("erasures", erasure.erasures, name="erasures"),
    path("erasures/<int:pk>", erasure.erasure, name="erasure"),
    path("erasures/<int:pk>/drop", erasure.drop_erasure, name="drop_erasure"),
    path("your-data", erasure.own_data, name="own_data"),
    path("your-data.json", erasure.own_data_file, name="own_data_file"),
]
