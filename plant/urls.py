"""Addresses of the register: signing in, label links, imports, the system's health."""

from django.urls import path

from plant.views import health, machine_import, phone, service_worker, sign_in, work_out

app_name = "plant"
urlpatterns = [
    path("sign-in", sign_in.sign_in, name="sign_in"),
    path("sign-in/code", sign_in.code_sign_in, name="code_sign_in"),
    path("sign-out", sign_in.sign_out, name="sign_out"),
    path("phones", phone.phone_list, name="phone_list"),
    path("phones/<int:pk>/code", phone.phone_link, name="phone_link"),
    path("phones/<int:pk>/withdraw", phone.withdraw_phone, name="withdraw_phone"),
    path("enrol", phone.enrol_phone, name="enrol_phone"),
    path("your-code", phone.own_code, name="own_code"),
    path("people/<int:pk>/first-code", phone.first_code, name="first_code"),
    path("health", health.health_page, name="health"),
    path("health.json", health.health_json, name="health_json"),
    path("sw.js", service_worker.service_worker, name="service_worker"),
    path("belts/work-out", work_out.belt_work_out, name="work_out"),
    path("imports", machine_import.import_list, name="import_list"),
    path("imports/new", machine_import.add_import, name="add_import"),
    path("imports/<int:pk>", machine_import.machine_import, name="machine_import"),
    path("imports/<int:pk>/progress", machine_import.import_progress, name="import_progress"),
    path("imports/<int:pk>/sort", machine_import.sort_import, name="sort_import"),
    path("imports/<int:pk>/save", machine_import.save_import, name="save_import"),
    path("imports/<int:pk>/drop", machine_import.drop_import, name="drop_import"),
    path("imports/<int:pk>/left-over", machine_import.import_left_over, name="import_left_over"),
]
