"""The page in a real browser: by keyboard and by mouse, on a desk and on a phone, light and dark."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from playwright.sync_api import expect, sync_playwright

from tests.web.chromium import ARGUMENTS, chromium
from tests.web.conftest import TRACKS
from tests.web.running import Running

AXE = (Path(__file__).parent / "axe" / "axe.min.js").read_text(encoding="utf-8")
DESK, PHONE = {"width": 1280, "height": 860}, {"width": 390, "height": 844}
PATIENCE_MS = 60_000
expect.set_options(timeout=PATIENCE_MS)
MOST_PAGE_BYTES = 500_000
#: Until whatever the page draws or moves by itself was drawn and moved some times more.
FRAMES = "() => new Promise(done => { let left = 12; const next = () => (left-- ? requestAnimationFrame(next) : done()); next(); })"


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """A server with flights of each kind: done, with two attempts, without one, with a question, refused."""
    server = Running(tmp_path_factory.mktemp("served"))
    odd = "when;Y;X;h\n" + "".join(f"2026-03-05T17:22:{s:02d}Z;47.1{s:02d};-31.9;3000\n" for s in range(60))
    server.ids = {
        "done": server.drop("wrong-side.gpx", (TRACKS / "lantern-wrong-side.gpx").read_bytes()),
        "clean": server.drop("clean.gpx", (TRACKS / "lantern-clean.gpx").read_bytes()),
        "two": server.drop("two.gpx", (TRACKS / "sallow-two-attempts.gpx").read_bytes()),
        "none": server.drop("none.gpx", (TRACKS / "lantern-no-approach.gpx").read_bytes()),
        "ndb": server.drop("ndb.gpx", (TRACKS / "quillow-overshoot.gpx").read_bytes()),
        "asking": server.drop("odd.csv", odd.encode()),
        "refused": server.drop("picture.png", b"\x89PNG\r\n\x1a\n" + bytes(100)),
    }
    server.wait()
    yield server
    server.kill()


@pytest.fixture(scope="module")
def chrome():
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def open_page(chrome):
    """Opens pages; at the end none may have complained or asked elsewhere."""
    contexts, wrong = [], []

    def opened(address, path="/", *, refuses=False):
        context = chrome.new_context(viewport=DESK, color_scheme="light", bypass_csp=False)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(PATIENCE_MS)
        page.on(
            "console", lambda message: None if _expected(message, refuses) else wrong.append(message.text)
        )
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on(
            "request",
            lambda request: (
                None if request.url.startswith((address, "data:", "blob:")) else wrong.append(request.url)
            ),
        )
        page.goto(address + path)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert wrong == []


def _expected(message, refuses):
    """Whether a message of the console is no complaint, or one of a request that is to be refused."""
    return message.type != "error" or (refuses and message.text.startswith("Failed to load resource"))


PAGES = {
    "home": "/",
    "report": "/flights/{done}",
    "two attempts": "/flights/{two}",
    "no approach": "/flights/{none}",
    "question": "/flights/{asking}",
    "refused": "/flights/{refused}",
    "replay": "/flights/{done}/replay",
    "replay, NDB": "/flights/{ndb}/replay",
    "replay of two": "/flights/{done}/replay?beside={clean}",
    "pile": "/pile",
    "submission": "/pile/{done}",
    "board": "/board",
    "a pilot's board": "/board?pilot=without+a+name",
    "procedures": "/procedures",
    "procedure": "/procedures/lantern-vor-22",
    "maker": "/procedures/new?from=lantern-vor-22",
    "empty maker": "/procedures/new",
    "removed": "/removed",
    "help": "/help",
    "interface": "/interface",
}


@pytest.mark.parametrize("path", PAGES.values(), ids=PAGES)
def test_no_page_stands_in_anybodys_way(server, open_page, path):
    """Contrast, names, order, focus (axe-core); nothing runs off the side of the screen: at a desk, on a phone at night."""
    page = open_page(server.address, path.format(**server.ids))
    page.evaluate(AXE)
    for size, colours in ((DESK, "light"), (PHONE, "dark")):
        page.set_viewport_size(size)
        page.emulate_media(color_scheme=colours)
        if "replay" in path:
            page.wait_for_selector("#replay[data-ready]")

        found = page.evaluate(
            "() => axe.run(document, {resultTypes: ['violations']}).then(r => r.violations.map(v => "
            "({id: v.id, impact: v.impact, nodes: v.nodes.slice(0, 3).map(n => n.target + ': ' + n.failureSummary)})))"
        )

        assert [entry for entry in found if entry["impact"] in ("serious", "critical")] == [], colours
        wide = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
        assert wide[0] <= wide[1], size


@pytest.mark.parametrize("path", ["/", "/flights/{done}", "/flights/{done}/replay", "/procedures/new"])
def test_a_page_is_light_before_its_data(server, chrome, path):
    context = chrome.new_context(viewport=DESK)
    page = context.new_page()
    sizes = []
    page.on(
        "response",
        lambda answer: sizes.append(len(answer.body())) if "/files/" not in answer.url else None,
    )
    page.goto(server.address + path.format(**server.ids))
    page.wait_for_load_state("networkidle")
    context.close()

    assert 0 < sum(sizes) <= MOST_PAGE_BYTES


def test_the_first_debrief_by_keyboard_alone(tmp_path, open_page):
    """An empty page teaches; the sample is debriefed; the report leads to the replay; all without a mouse."""
    server = Running(tmp_path)
    try:
        page = open_page(server.address)
        assert (
            page.get_by_role("heading", level=1).inner_text() == "What did last night's approach look like?"
        )
        _tab_to(page, "See it with an invented flight")
        page.keyboard.press("Enter")
        page.get_by_role("heading", name="Lantern VOR/DME runway 22").wait_for()
        _tab_to(page, "Replay the flight")
        page.keyboard.press("Enter")
        page.wait_for_selector("#replay[data-ready]")
    finally:
        server.kill()


def _tab_to(page, name, most=60):
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.innerText") == name:
            return
    raise AssertionError(f"{name!r} is not reached by keyboard")


def test_dropped_logs_are_told_apart_and_removal_is_undone(tmp_path, open_page):
    server = Running(tmp_path)
    try:
        page = open_page(server.address, refuses=True)
        page.evaluate(
            """() => { const data = new DataTransfer();
            data.items.add(new File(['GIF89a' + 'x'.repeat(99)], '<b>picture</b>.gif'));
            data.items.add(new File([''], 'empty.gpx'));
            document.dispatchEvent(new DragEvent('drop', { dataTransfer: data, bubbles: true, cancelable: true })); }"""
        )
        expect(page.locator("#arriving")).to_contain_text("The file is empty. Export the log again.")
        row = page.locator("[data-flight]")
        expect(row).to_have_count(1)
        # still: it is read after the others
        expect(page.locator("#arriving")).to_contain_text("The file is empty.")
        page.reload()
        expect(row).to_contain_text("Not readable")
        expect(row).to_contain_text("b>.gif")

        row.get_by_role("button", name="Remove").click()
        expect(page.get_by_text("The flight was removed.")).to_be_visible()
        assert page.locator("[data-flight]").count() == 0
        page.get_by_role("button", name="Undo").click()
        expect(page.locator("[data-flight]")).to_have_count(1)
    finally:
        server.kill()


def test_who_leaves_while_logs_are_being_sent_is_warned(tmp_path, open_page):
    """Until the last one was answered for; then nobody is held up."""
    server = Running(tmp_path)
    asked, held = [], []

    def stays(dialog):
        asked.append(dialog.type)
        dialog.dismiss()

    try:
        page = open_page(server.address)
        page.on("dialog", stays)
        page.route("**/api/v1/flights", lambda route: held.append(route))
        page.locator("h1").click()  # a browser warns only whoever has touched the page
        page.set_input_files("#log", [TRACKS / "brandel-sparse.csv", TRACKS / "lantern-clean.gpx"])
        expect(page.locator("#arriving li")).to_have_count(2)
        until = time.monotonic() + PATIENCE_MS / 1000.0
        while len(held) < 2 and time.monotonic() < until:  # what is asked for is told to this process later
            page.wait_for_timeout(20)
        with page.expect_event("dialog"):  # asked in the browser's own time, not as the address is set
            page.evaluate("() => { location.href = '/help'; }")
        expect(page.locator("#arriving li")).to_have_count(2)
        assert asked == ["beforeunload"]
        assert page.url == server.address + "/"

        for route in held:
            route.continue_()
        expect(page.locator("[data-flight]")).to_have_count(2)
        page.evaluate("() => { location.href = '/help'; }")
        page.wait_for_url("**/help")
        page.wait_for_load_state("networkidle")
        assert asked == ["beforeunload"]
    finally:
        server.kill()


def test_the_replay_obeys_the_keyboard_and_tells_what_it_shows(server, open_page):
    page = open_page(server.address, f"/flights/{server.ids['done']}/replay")
    page.wait_for_selector("#replay[data-ready]")
    at = lambda: float(page.get_attribute("#replay", "data-at"))  # noqa: E731
    slider = page.get_by_role("slider", name="Time")
    start = at()

    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    assert at() == pytest.approx(start + 11.0, abs=0.01)
    page.keyboard.press("]")
    page.keyboard.press("]")
    expect(page.locator(".now")).to_contain_text("Outbound")
    assert "Outbound" in slider.get_attribute("aria-valuetext")
    assert "DME" in slider.get_attribute("aria-valuetext")
    page.keyboard.press(".")
    expect(page.locator(".finding-said")).to_contain_text("The course reversal was flown right")
    page.keyboard.press("End")
    end = at()
    page.keyboard.press("Home")
    assert (at(), at() < end) == (start, True)
    page.keyboard.press(" ")
    for _ in range(300):
        if at() > start + 5:
            break
        page.wait_for_timeout(100)
    assert at() > start + 5
    page.keyboard.press(" ")
    expect(page.get_by_role("button", name="Run", exact=True)).to_be_visible()
    held = at()
    page.evaluate(FRAMES)
    assert at() == held


def test_the_replay_of_an_ndb_speaks_of_the_course_and_of_no_needle(server, open_page):
    page = open_page(server.address, f"/flights/{server.ids['ndb']}/replay")
    page.wait_for_selector("#replay[data-ready]")
    slider = page.get_by_role("slider", name="Time")
    page.keyboard.press("Home")
    said = []
    for _ in range(60):
        said.append(slider.get_attribute("aria-valuetext"))
        page.keyboard.press("Shift+ArrowRight")
    assert any("on the course" in words or "degrees left" in words for words in said)
    assert not any("needle" in words for words in said)


def test_the_replay_obeys_the_mouse_on_strips_and_map(server, open_page):
    page = open_page(server.address, f"/flights/{server.ids['done']}/replay")
    page.wait_for_selector("#replay[data-ready]")
    strips = page.locator("canvas.strips")
    strips.scroll_into_view_if_needed()
    box = strips.bounding_box()

    page.mouse.click(box["x"] + box["width"] * 0.5, box["y"] + box["height"] * 0.5)
    middle = float(page.get_attribute("#replay", "data-at"))
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + 40)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.9, box["y"] + 40, steps=4)
    page.mouse.up()
    assert float(page.get_attribute("#replay", "data-at")) > middle + 60

    plan = page.locator("canvas.map")
    plan.scroll_into_view_if_needed()
    box = plan.bounding_box()
    before = plan.screenshot()
    page.mouse.move(box["x"] + 200, box["y"] + 200)
    page.mouse.wheel(0, -400)
    page.evaluate(FRAMES)
    assert plan.screenshot() != before


def test_a_finding_of_the_report_leads_to_its_moment(server, open_page):
    page = open_page(server.address, f"/flights/{server.ids['two']}")
    link = page.get_by_role("link", name="See it in the replay").first
    link.click()
    page.wait_for_selector("#replay[data-ready]")

    expect(page.locator(".finding-said")).not_to_be_empty()


def test_a_mistake_in_the_maker_stands_beside_its_field_while_one_types(server, open_page):
    page = open_page(server.address, "/procedures/new?from=lantern-vor-22")
    field = page.locator('[id="station.latitude"]')
    field.fill("95")

    wrong = page.locator('[id="wrong-station.latitude"]')
    expect(wrong).to_have_text("95 is out of range. Allowed: -90 to 90.")
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(page.locator("#figure")).to_be_hidden()

    field.fill("47.1842")
    expect(wrong).to_be_hidden()
    expect(page.locator("#figure")).to_be_visible()
    page.get_by_label("The station stands").select_option("straight")
    expect(page.get_by_text("Course reversal", exact=True).first).to_be_hidden()


def test_without_scripts_a_log_can_be_sent_and_read(server, chrome):
    context = chrome.new_context(java_script_enabled=False)
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    page.goto(server.address)
    page.set_input_files("#log", TRACKS / "lantern-wrong-side.gpx")
    page.get_by_role("button", name="Debrief").click()

    expect(page.get_by_role("heading", level=1)).to_contain_text("Lantern VOR/DME runway 22")
    context.close()
