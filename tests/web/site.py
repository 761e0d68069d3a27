"""A page for tests: the application over a folder, browsers that are signed in, and a worker that is called."""

from __future__ import annotations

import re
import secrets
import threading
from contextlib import contextmanager

from starlette.testclient import TestClient

from debrief.web import accounts, flights, sessions
from debrief.web.app import make_app
from debrief.web.store import Store
from debrief.web.worker import work_once

PASSWORD = "umbrella tractor violet 7"


class Browser:
    """Somebody at a page: keeps the cookie, sends the form's key."""

    def __init__(self, app, *, base="http://localhost"):
        self.client = TestClient(app, base_url=base, raise_server_exceptions=False)
        self.key = ""

    def get(self, path, **more):
        return self.client.get(path, **more)

    def form_key(self, path="/help"):
        if self.key:
            return self.key
        found = re.search(r'name="form-key" content="([^"]*)"', self.client.get(path).text)
        return found[1]

    def post(self, path, fields=None, *, files=None, follow=False, headers=None):
        fields = {"form_key": self.form_key(), **(fields or {})}
        return self.client.post(path, data=fields, files=files, follow_redirects=follow, headers=headers)

    def send(self, method, path, **more):
        return self.client.request(method, path, headers={"X-Form-Key": self.form_key()}, **more)


class Site:
    def __init__(self, folder, *, loopback=True, language=""):
        self.store = Store(folder)
        self.store.make()
        self.logbook = folder.with_name(f"{folder.name}-logbook.sqlite")
        self.app = make_app(self.store, loopback=loopback, language=language)
        self.browser = Browser(self.app)
        self.get, self.post, self.send = self.browser.get, self.browser.post, self.browser.send

    def add_account(self, name, role):
        with self.store.open() as connection:
            return accounts.add_account(connection, name, role, PASSWORD)

    def sign_in(self, name, password=PASSWORD, **more):
        """Sign in over the form: the browser, and the answer."""
        browser = Browser(self.app, base="https://localhost")
        return browser, browser.post("/sign-in", {"name": name, "password": password, **more})

    def signed_in(self, name):
        """A browser with a session of that account, as after signing in (which takes its time on purpose)."""
        browser = Browser(self.app, base="https://localhost")
        with self.store.open() as connection:
            session = sessions.begin(connection, accounts.account_named(connection, name))
        cookie = sessions.signed(self.store.secret(), session.key)
        browser.client.cookies.set(sessions.COOKIE, cookie, domain="localhost.local")
        browser.key = session.form_key
        return browser

    def drop(self, content, name="flight.gpx", browser=None):
        """Send one log; the id of its flight."""
        browser = browser or self.browser
        answer = browser.send("POST", "/api/v1/flights", files={"log": (name, content)}).json()
        return answer["logs"][0]["flight"]["id"]

    def work(self):
        """Work off whatever is waited for: logs, the logbook, what pages need."""
        with self.store.open() as connection:
            while work_once(self.store, connection, str(self.logbook), f"0-{secrets.token_hex(8)}"):
                pass

    @contextmanager
    def a_worker(self):
        """Work is done meanwhile, as beside a real server."""
        done = threading.Event()

        def go_on():
            while not done.wait(0.02):
                self.work()

        thread = threading.Thread(target=go_on)
        thread.start()
        try:
            yield
        finally:
            done.set()
            thread.join()

    def looked_at(self, browser, path):
        """A page for which a worker has to work something out: asked again, should the first time have lost patience."""
        with self.a_worker():
            browser.get(path)
        self.work()
        with self.a_worker():
            return browser.get(path)

    def row(self, flight):
        with self.store.open() as connection:
            return flights.one(connection, flight)
