"""The built page in a real browser, with made snapshots behind it instead of a plant."""

import subprocess
from pathlib import Path
from urllib.request import Request, urlopen

import pytest
from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parents[3]
BROWSER = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]
SIZES = {"phone": (360, 740), "tablet": (820, 1180), "laptop": (1440, 900)}


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=BROWSER)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def serve():
    """Starts the page with made snapshots behind it; its address."""
    running = []

    def start(*options):
        command = ["node", "web/scripts/fixture-server.mjs", "--port", "0", "--root", "dist-gallery", *options]
        server = subprocess.Popen(
            [".ci/setup", "node", *command], cwd=ROOT, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True
        )
        running.append(server)
        return server.stdout.readline().strip()

    yield start
    for server in running:
        server.terminate()
        server.wait(10)
        server.stdout.close()


@pytest.fixture(scope="module")
def address(serve):
    return serve()


@pytest.fixture
def open_page(browser):
    """Opens an address on a device of its own."""
    contexts = []

    def open_(url, size="phone", palette=None, **device):
        width, height = SIZES[size]
        device.setdefault("reduced_motion", "reduce")
        context = browser.new_context(viewport={"width": width, "height": height}, **device)
        contexts.append(context)
        if palette is not None:
            context.add_init_script(f"localStorage.setItem('halocline.palette', '{palette}')")
        page = context.new_page()
        page.goto(url)
        return page

    yield open_
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def put():
    """Puts the made plant into one of the states of web/fixtures."""

    def put_(address, fixture):
        with urlopen(Request(f"{address}/fixtures/{fixture}", method="PUT"), timeout=5) as answer:
            assert answer.status == 200

    return put_
