"""The application as a browser sees it, without a network: whole requests in, whole answers out."""

import time

import httpx

from halocline.plant.settings import HttpSettings, PlanSettings, UnitSettings
from halocline.report.http.app import build_app
from halocline.report.http.context import Context, StoredPin
from halocline.report.http.sessions import Sessions
from halocline.report.planning.planner import Planner

PIN = "482913"
HEADERS = {"X-Halocline": "1"}


class Browser:
    """A client that keeps its cookies and speaks to the application without a network."""

    def __init__(self, runner, app, address="192.168.1.20", base_url="http://192.168.1.2:8080"):
        self._runner = runner
        transport = httpx.ASGITransport(app, client=(address, 50000))
        self._client = httpx.AsyncClient(transport=transport, base_url=base_url)
        self.cookies = self._client.cookies

    def get(self, path, **options):
        return self._runner.run(self._client.get(path, **options))

    def posting(self, path, **options):
        """A post that is still to be awaited."""
        return self._client.post(path, **options)

    def post(self, path, **options):
        return self._runner.run(self._client.post(path, **options))

    def request(self, method, path, **options):
        return self._runner.run(self._client.request(method, path, **options))

    def delete(self, path, **options):
        return self._runner.run(self._client.delete(path, **options))


class Aboard:
    """The application over a feed, seen from one address."""

    def __init__(
        self,
        runner,
        feed,
        secrets_path,
        *,
        simulated=False,
        page_dir=None,
        names=(),
        faults=None,
        checkup=None,
        plan=None,
        **http,
    ):
        self.runner = runner
        self.secrets_path = secrets_path
        self.context = Context(
            feed,
            Sessions(StoredPin(secrets_path, None), time.monotonic),
            HttpSettings(**http),
            UnitSettings(),
            simulated=simulated,
            host_names=("localhost", "cagarra.local", *names),
            page_dir=page_dir,
            faults=faults,
            checkup=checkup,
            planner=Planner(feed.record_path, PlanSettings() if plan is None else plan),
        )
        self.app = build_app(self.context)
        self.client = self.seen_from("192.168.1.20")

    def seen_from(self, address):
        return Browser(self.runner, self.app, address)

    def command(self, command, **arguments):
        return self.client.post("/api/v1/commands", json={"command": command, **arguments}, headers=HEADERS)

    def sign_in(self, pin=PIN, name="Ana"):
        return self.client.post("/api/v1/session", json={"pin": pin, "name": name}, headers=HEADERS)
