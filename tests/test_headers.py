"""What every answer carries: what a page may load, who may keep it, and nothing inline in it."""

import os
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings
from django.test import Client
from django.urls import reverse

from addresses import ADDRESSES, EVERYBODY, World, signed_in
from make import make_user
from plant.models import Role, User
from test_access import everybody_of, visit

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; "
    "font-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'; "
    "form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'"
)
ALWAYS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=()",
}
FILES = {
    "reports:own_data_file",
    "maintenance:record_photo",
    "reports:batch_file",
    "reports:sheet_file",
}


def is_dressed(response: Any, name: str) -> None:
    for header, value in ALWAYS.items():
        assert response.headers.get(header) == value, (name, header)
    policy = response["Content-Security-Policy"]
    if name in FILES and response.status_code == 200:
        assert set(policy.split("; ")) == {"sandbox", "default-src 'none'"}
        assert response["Content-Disposition"].startswith("attachment")
        assert response["Content-Type"] in {"image/jpeg", "application/pdf", "application/json"}
    else:
        assert policy == POLICY, name


class Inline(HTMLParser):
    """Finds what the policy would refuse, and what would let somebody in."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.in_script = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.in_script = tag == "script"
        if tag in {"style", "base", "object", "embed", "iframe"}:
            self.found.append(tag)
        if tag == "script" and not (given.get("src") or "").startswith("/static/"):
            self.found.append("script without a file of ours")
        for name, value in given.items():
            if name == "style" or (name.startswith("on") and name != "one"):
                self.found.append(f"{tag} {name}")
            leads = name in {"href", "src", "action", "formaction", "hx-get", "hx-post"}
            off = re.match(r"\s*(javascript|data|vbscript|https?):|//", value or "", re.IGNORECASE)
            if leads and off:
                self.found.append(f"{tag} {name}={value}")
        if tag == "form" and (given.get("method") or "get").lower() == "post":
            self.found.append("form")

    def handle_data(self, data: str) -> None:
        if self.in_script and data.strip():
            self.found.append("script inline")

    def handle_endtag(self, tag: str) -> None:
        self.in_script = False


def test_every_answer_is_dressed_and_holds_nothing_inline(ours: World) -> None:
    for client in (signed_in(everybody_of(ours)), signed_in(None)):
        for name, page in ADDRESSES.items():
            for method in ("GET", "POST"):
                response = visit(client, method, ours.address(name))
                is_dressed(response, name)
                if name == "reports:feed" and method == "GET":
                    assert response["Cache-Control"] == "private, max-age=900"
                elif name not in {"plant:service_worker", "plant:script_words"}:
                    assert response["Cache-Control"] == "no-store", name
                if response["Content-Type"].startswith("text/html") and response.status_code == 200:
                    text = response.all.decode()
                    inline = Inline(text).found
                    assert [each for each in inline if each != "form"] == [], name
                    assert text.count("csrfmiddlewaretoken") == inline.count("form"), name
            assert page


@pytest.mark.parametrize(
    "path", ["/nothing-here", "/machines/999999", "/q/none", "/static/none.css", "/q/%00", "/?%00"]
)
def test_errors_are_dressed_too(ours: World, path: str) -> None:
    for client in (signed_in(everybody_of(ours)), signed_in(None)):
        response = client.get(path)
        assert response.status_code in {302, 400, 404}
        is_dressed(response, path)


def test_refusals_are_dressed_too(ours: World) -> None:
    operator = signed_in(ours.people[Role.OPERATOR])
    strict = signed_in(ours.people[Role.OPERATOR], enforce_csrf_checks=True)
    answers = [
        operator.get(reverse("plant:health")),
        strict.post(ours.address("maintenance:stop_machine"), {"told": "x"}),
        operator.put(ours.address("maintenance:machine")),
        operator.get("/?" + "&".join(f"a{n}=1" for n in range(2000)) + "&job=1"),
        operator.generic("POST", "/sign-in", CONTENT_LENGTH="99999999"),
    ]
    assert [each.status_code for each in answers] == [403, 403, 405, 200, 413]
    for response in answers:
        is_dressed(response, "refusal")
        assert Inline(response.content.decode()).found in ([], ["form"])


def test_a_fault_of_ours_is_dressed_and_tells_nothing(
    ours: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError("secret of the works")

    monkeypatch.setattr("maintenance.views.due.announced", broken)
    response = signed_in(everybody_of(ours)).get(reverse("maintenance:due_list"))

    page = response.content.decode()
    assert response.status_code == 500
    is_dressed(response, "fault")
    assert Inline(page).found == []
    for secret in ("secret of the works", "Traceback", "RuntimeError", ".py", "django", "SELECT"):
        assert secret not in page


def test_templates_hold_nothing_inline_nor_unescaped() -> None:
    seen = 0
    for folder in ("plant", "maintenance", "reports"):
        for file in (Path(settings.BASE_DIR) / folder / "templates").rglob("*.html"):
            # Our own drawing, whose words are escaped where it is drawn (plant/drawings/svg.py).
            text = file.read_text(encoding="utf-8")
            for drawn in ("{{ picture.svg|safe }}", "{{ now_.bars|safe }}"):
                text = text.replace(drawn, "")
            seen += 1
            assert not re.search(r"\sstyle\s*=|<style|\son[a-z]+\s*=|javascript:", text), file
            assert not re.search(r"\|\s*safe\b|autoescape\s+off|\|\s*safeseq", text), file
            assert "<script>" not in text, file
    assert seen > 30


def test_only_drawings_of_our_own_are_marked_safe() -> None:
    """Nothing that anybody typed is ever marked as markup."""
    allowed = {
        "plant/addresses.py",  # a link of ours, its words escaped
        "plant/templatetags/listing.py",  # cells that are escaped or safe already
        "plant/templatetags/marks.py",  # constants
        "maintenance/templatetags/pictures.py",  # files of ours, never the key asked for
    }
    found = set()
    for folder in ("plant", "maintenance", "reports"):
        for file in (Path(settings.BASE_DIR) / folder).rglob("*.py"):
            if re.search(r"\bmark_safe\(|\bSafeString\((?!\"\")", file.read_text(encoding="utf-8")):
                found.add(str(file.relative_to(settings.BASE_DIR)))
    assert found == allowed


def rows() -> dict[str, list[Any]]:
    """Every row of every table with all that stands in it, but for sessions, counted visits, and
    what a calendar keeps of what it told, so that its next telling has a higher revision."""
    return {
        model._meta.label: sorted(map(repr, model._default_manager.values_list()))
        for model in apps.get_models()
        if model._meta.label not in {"sessions.Session", "plant.SignInAttempt", "reports.FeedEvent"}
    }


def test_looking_changes_nothing(ours: World) -> None:
    client = signed_in(everybody_of(ours))
    anybody = signed_in(None)
    before = rows()
    for name, page in ADDRESSES.items():
        for sender in (client, anybody):
            for query in ("", "?csv=1&job=1&code=x&q=1&next=/&confirmed=on&told=smokes&yes=1"):
                # Without undoing anything, unlike the other walks.
                response: Any = sender.get(ours.address(name) + query)
                b"".join(response.streaming_content) if response.streaming else response.content
                if page.get and page.who == EVERYBODY:
                    sender.head(ours.address(name))

    assert rows() == before


@pytest.mark.parametrize(
    "onward",
    [
        "//evil.example", "https://evil.example", "/\\evil.example", "\\\\evil.example",
        "javascript:alert(1)", "http:evil.example", "///evil.example", "/%09/evil.example\t",
        "\t//evil.example", "/\t/evil.example", " https://evil.example", "evil.example", "?x",
        "https:/evil.example", "//evil.example/%2f..", "/\n/evil.example", "@evil.example",
    ],
)  # fmt: skip
def test_signing_in_never_leads_off_the_site(ours: World, onward: str) -> None:
    user = make_user("Ida Brandt", password="a long enough one")
    entered = {"sign_in": user.sign_in, "password": "a long enough one", "next": onward}

    response = Client().post(reverse("plant:sign_in"), entered)
    shown = Client().get(reverse("plant:sign_in"), {"next": onward}).content.decode()
    signed = Client()
    signed.force_login(user)
    passed_on = signed.get(reverse("plant:sign_in"), {"next": onward})

    for there in (response["Location"], passed_on["Location"]):
        assert re.match(r"/(?![/\\])", there), there
        assert not re.match(r"/[\t\r\n ]*[/\\]", there), there
    assert 'name="next" value="/' in shown


def run_with_tls(
    *command: str, tmp_path: Path, **settings_: str
) -> subprocess.CompletedProcess[str]:
    kept = {key: value for key, value in os.environ.items() if key in {"PATH", "LANG", "HOME"}}
    more = {"TLS": "1", "DATA_DIR": str(tmp_path), "SECRET_KEY": "a long key of the tests, " * 4}
    more |= settings_
    return subprocess.run(
        [sys.executable, *command], env=kept | more, cwd=settings.BASE_DIR, capture_output=True,
        text=True, timeout=60, check=False,
    )  # fmt: skip


def test_the_check_for_deployment_finds_nothing_with_tls(tmp_path: Path) -> None:
    done = run_with_tls("manage.py", "check", "--deploy", "--fail-level=INFO", tmp_path=tmp_path)

    assert done.returncode == 0, done.stderr
    assert "no issues (0 silenced)" in done.stdout


def test_behind_a_proxy_that_sends_plain_requests_over_it_finds_nothing_either(
    tmp_path: Path,
) -> None:
    done = run_with_tls(
        "manage.py", "check", "--deploy", "--fail-level=INFO", tmp_path=tmp_path,
        REDIRECT_TO_TLS="0",
    )  # fmt: skip

    assert done.returncode == 0, done.stderr
    assert "no issues (1 silenced)" in done.stdout


SIGN_IN_PAGE = """
import django
django.setup()
from django.core.management import call_command
call_command("migrate", verbosity=0)
call_command("collectstatic", verbosity=0, interactive=False)
from django.test import Client
plain = Client().get("/sign-in", headers={"host": "localhost"})
print(plain.status_code, plain["Location"])
from plant.models import User
user = User.objects.create_user(sign_in="ida", name="Ida", password="a long enough one")
answer = Client().post(
    "/sign-in", {"sign_in": "ida", "password": "a long enough one"},
    secure=True, headers={"host": "localhost"},
)
print(answer.status_code, answer["Strict-Transport-Security"])
for cookie in answer.cookies.values():
    print(cookie.OutputString())
"""


def test_with_tls_cookies_are_bound_to_this_host(tmp_path: Path) -> None:
    code = (
        f"import os; os.environ['DJANGO_SETTINGS_MODULE'] = 'plant.config.settings'\n{SIGN_IN_PAGE}"
    )
    done = run_with_tls("-c", code, tmp_path=tmp_path)

    assert done.returncode == 0, done.stderr
    plain, answer, *cookies = done.stdout.splitlines()
    assert plain == "301 https://localhost/sign-in"
    assert answer == "302 max-age=31536000; includeSubDomains; preload"
    assert {cookie.partition("=")[0] for cookie in cookies} == {"__Host-session", "__Host-csrf"}
    for cookie in cookies:
        parts = {part.strip().lower() for part in cookie.split(";")}
        assert {"secure", "httponly", "path=/", "samesite=lax"} <= parts
        assert not any(part.startswith("domain") for part in parts)


def test_cookies_on_this_computer_alone_have_plain_names(ours: World) -> None:
    user = User.objects.get(pk=ours.people[Role.OPERATOR].pk)
    user.set_password("a long enough one")
    user.save()
    answer = Client().post(
        reverse("plant:sign_in"), {"sign_in": user.sign_in, "password": "a long enough one"}
    )

    assert answer.status_code == 302
    assert answer.cookies["session"]["httponly"]
    assert answer.cookies["session"]["samesite"] == "Lax"
    assert "Strict-Transport-Security" not in answer.headers
