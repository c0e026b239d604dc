"""Sets up what is missing and runs web, background worker and timer together."""

import os
import socket
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

import psutil
from django.conf import settings
from django.core.management import BaseCommand, CommandError, call_command

from plant.actions.set_up import is_wanted
from plant.models import Depot
from plant.supervisor import Process, run

_EVERYWHERE = {"0.0.0.0", "::"}  # noqa: S104


def web_command(
    *, host: str, port: int, workers: int, tls: list[str], site: str = "plant.config.wsgi"
) -> list[str]:
    """Several web processes; asked to stop, each finishes the requests that it has."""
    web = [sys.executable, "-m", "granian", "--interface", "wsgi", "--no-ws"]
    web += ["--host", host, "--port", str(port), "--workers", str(workers)]
    web += ["--blocking-threads", "4", "--respawn-failed-workers", "--log-level", "warning"]
    return [*web, "--workers-kill-timeout", "20", *tls, f"{site}:application"]


def worker_command() -> list[str]:
    """One worker of two processes, so the timer may live inside it."""
    worker = [sys.executable, "-m", "celery", "-q", "-A", "plant.config", "worker"]
    worker += ["-B", "--concurrency", "2", "--loglevel", "WARNING", "--without-gossip"]
    return [*worker, "--without-mingle", "--schedule", settings.CELERY_BEAT_SCHEDULE_FILENAME]


class Command(BaseCommand):
    help = "Runs everything that a small depot needs, until Ctrl-C."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--demo", action="store_true", help="bring in the demo firm first")
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--certificate", type=Path, help="TLS certificate, PEM")
        parser.add_argument("--key", type=Path, help="its key, PEM (PKCS#8)")
        parser.add_argument("--workers", type=int, default=2, help="web processes")
        parser.add_argument(
            "--no-backup", action="store_true", help="bring the database up to date without one"
        )

    def handle(self, *, demo: bool, host: str, port: int, **options: Any) -> None:
        tls = self._certificate(options["certificate"], options["key"])
        self._free(host, port)
        call_command("bring_up_to_date", no_backup=options["no_backup"], stdout=self.stdout)
        if demo and not Depot.objects.exists():
            call_command("demo", stdout=self.stdout)
        self._announce(demo=demo, host=host, port=port, tls=bool(tls))
        address = f"{'https' if tls else 'http'}://{self._shown(host)}:{port}"
        environment = {
            **os.environ,
            "TLS": "1" if tls else "0",
            "DEMO": "1" if demo else "0",
            "SITE_ADDRESS": os.environ.get("SITE_ADDRESS", address),
            "ALLOWED_HOSTS": ",".join({*settings.ALLOWED_HOSTS, *self._own_names(host)}),
            # A container's root is meant; only JSON is accepted, so nothing typed is ever run.
            "C_FORCE_ROOT": "1",
            "PYTHONWARNINGS": "ignore:You're running the worker with superuser",
        }
        web = web_command(host=host, port=port, workers=options["workers"], tls=tls)
        run(
            [
                Process("web", web, environment),
                Process("worker and timer", worker_command(), environment),
            ],
            say=self.stdout.write,
        )

    def _shown(self, host: str) -> str:
        """What people type to come here."""
        if host in {"127.0.0.1", "::1"}:
            return "localhost"
        return socket.getfqdn() if host in _EVERYWHERE else host

    def _own_names(self, host: str) -> set[str]:
        """The names and addresses by which other computers may call this one."""
        if host not in _EVERYWHERE:
            return {host}
        found = {socket.gethostname(), socket.getfqdn()}
        for addresses in psutil.net_if_addrs().values():
            found |= {each.address for each in addresses if each.family == socket.AF_INET}
        return found

    def _certificate(self, certificate: Path | None, key: Path | None) -> list[str]:
        if certificate is None and key is None:
            return []
        for file in (certificate, key):
            if file is None or not file.is_file():
                raise CommandError("Give both --certificate and --key, each an existing file.")
        return ["--ssl-certificate", str(certificate), "--ssl-keyfile", str(key)]

    def _free(self, host: str, port: int) -> None:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        with socket.socket(family) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, port))
            except OSError as taken:
                raise CommandError(
                    f"Port {port} on {host} cannot be used: {taken.strerror}. Try --port 8001."
                ) from taken

    def _announce(self, *, demo: bool, host: str, port: int, tls: bool) -> None:
        scheme = "https" if tls else "http"
        self.stdout.write(f"\nOpen {scheme}://{self._shown(host)}:{port}/ in a browser.")
        if demo:
            call_command("demo", names=True, stdout=self.stdout)
        if is_wanted():
            call_command("set_up", f"{scheme}://{self._shown(host)}:{port}", stdout=self.stdout)
        if not tls:
            self.stdout.write(
                "\nWithout a certificate this works on this computer alone, or for pages with a "
                "signal:\nphones on the yard's network can sign in and check, but cannot keep a "
                "check without\nsignal, use the camera to scan, or send over an encrypted line. "
                "Give --certificate and\n--key to serve phones; then start with --host 0.0.0.0."
            )
        self.stdout.write("Ctrl-C stops everything.\n")
