"""The dashboard in a real browser, started as a user starts it, on the whole sample store."""

import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.error import URLError
from urllib.request import ProxyHandler, build_opener

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, expect

CHECKOUT = Path(__file__).parents[2]
LONGEST = 120_000
"""Milliseconds that a page may take: the first one plans, the third plays every shelf life."""

WIDE, UPRIGHT = {"width": 1280, "height": 800}, {"width": 820, "height": 1180}
"""An office screen, and a tablet on the bakery's wall."""

PAGES = {
    "": r"^2026-W40 cost USD [\d,]+$",
    "bake_plan": r"^Save USD [\d,]+ a week$",
    "shelf_life": r"^One more day on shelf: USD [\d,]+ a week$",
    "line_switch": r"^Before a line is switched$",
}
CHARTS = {"": 5, "bake_plan": 2, "shelf_life": 3, "line_switch": 0}


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def answers(port: int) -> bool:
    # a proxy of the machine's own has no business between a test and this machine
    opener = build_opener(ProxyHandler({}))
    try:
        with opener.open(f"http://127.0.0.1:{port}/_stcore/health", timeout=2) as response:
            return bool(response.status == 200)
    except (URLError, TimeoutError, ConnectionError):
        return False


@pytest.fixture(scope="session")
def port(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    """Port of a dashboard on the sample records; ended with the run, and nothing left of it."""
    port = free_port()
    log = tmp_path_factory.mktemp("dashboard") / "log"
    command = [sys.executable, "-m", "shrinkwise", "dashboard", "sample_data"]
    with log.open("wb") as file:
        server = subprocess.Popen(
            [*command, "--port", str(port)], cwd=CHECKOUT, stdout=file, stderr=subprocess.STDOUT
        )
        try:
            until = time.monotonic() + 60
            while not answers(port):
                assert server.poll() is None, log.read_text(errors="replace")
                assert time.monotonic() < until, log.read_text(errors="replace")
                time.sleep(0.2)
            yield port
        finally:
            server.terminate()
            try:
                server.wait(timeout=20)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()
    with socket.socket() as probe:
        assert probe.connect_ex(("127.0.0.1", port)) != 0, "the dashboard is still there"
    said = log.read_text(errors="replace")
    assert "Traceback" not in said, said
    assert "deprecat" not in said.lower(), said


class Console:
    """Errors of a page's console, without those of a network that is not there."""

    def __init__(self, page: Page, port: int) -> None:
        self.errors: list[str] = []
        self._own = f"http://127.0.0.1:{port}/"
        page.on("console", self._take)
        page.on("pageerror", lambda error: self.errors.append(str(error)))

    def _take(self, message: ConsoleMessage) -> None:
        if message.type != "error":
            return
        address = message.location.get("url", "")
        elsewhere = address.startswith("http") and not address.startswith(self._own)
        if elsewhere and "net::ERR_" in message.text:
            return
        # opened at /bake_plan, Streamlit first looks for itself below that name, then above
        if "404" in message.text and address.startswith(self._own):
            name, _, rest = address.removeprefix(self._own).partition("/")
            if name in PAGES and rest in ("_stcore/health", "_stcore/host-config"):
                return
        self.errors.append(f"{message.text} ({address})")


@pytest.fixture(params=[WIDE, UPRIGHT], ids=["wide", "upright"])
def page(request: pytest.FixtureRequest, chromium: Browser) -> Iterator[Page]:
    context = chromium.new_context(viewport=request.param, accept_downloads=True)
    context.set_default_timeout(LONGEST)
    yield context.new_page()
    context.close()


def open_page(page: Page, port: int, name: str) -> None:
    """Open a page and wait until its script has run to its end."""
    page.goto(f"http://127.0.0.1:{port}/{name}")
    page.wait_for_selector("h1", timeout=LONGEST)
    page.wait_for_selector(
        '[data-testid="stApp"][data-test-script-state="notRunning"]', timeout=LONGEST
    )
    # spinners and half-drawn elements are gone
    expect(page.locator('[data-testid="stSpinner"]')).to_have_count(0, timeout=LONGEST)


def scrolls_sideways(page: Page) -> list[str]:
    """What is wider than its window: the page and the blocks that hold it."""
    return list(
        page.evaluate(
            """() => ['html', 'body', '[data-testid="stApp"]', '[data-testid="stMain"]',
                      '[data-testid="stAppViewContainer"]']
                .filter(name => { const box = document.querySelector(name);
                                  return box && box.scrollWidth > box.clientWidth + 1; })"""
        )
    )


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_whole(name: str, page: Page, port: int) -> None:
    console = Console(page, port)
    open_page(page, port, name)
    assert page.locator('[data-testid="stException"]').count() == 0
    assert page.locator('[data-testid="stAlertContentError"]').count() == 0
    heading = page.locator("h1")
    expect(heading).to_have_count(1)
    assert re.match(PAGES[name], heading.inner_text().strip())
    box, screen = heading.bounding_box(), page.viewport_size
    assert box
    assert screen
    # read without scrolling
    assert box["y"] >= 0
    assert box["y"] + box["height"] <= screen["height"]
    assert scrolls_sideways(page) == []
    # the other pages are one click away
    for title in ("Last week", "Bake plan", "Shelf life", "Line switch"):
        assert page.get_by_text(title, exact=True).count() > 0
    assert console.errors == []


@pytest.mark.parametrize("name", [name for name, number in CHARTS.items() if number])
def test_charts_are_drawn_and_told_in_words(name: str, page: Page, port: int) -> None:
    open_page(page, port, name)
    charts = page.locator('[data-testid="stVegaLiteChart"]')
    expect(charts).to_have_count(CHARTS[name])
    for part in page.locator('[data-testid="stExpander"] summary').all():
        part.click()
    for chart in charts.all():
        chart.scroll_into_view_if_needed()
        drawing = chart.locator("canvas, svg.marks").first
        expect(drawing).to_be_visible()
        box = drawing.bounding_box()
        assert box
        assert min(box["width"], box["height"]) > 100
        # the finding, for those who cannot see the drawing; labels inside it are of its marks
        told = chart.get_attribute("aria-label") or ""
        assert re.search(r"\w+.*: .*\d", told), told


def test_recommendations_download_is_the_file_of_the_command_line(page: Page, port: int) -> None:
    open_page(page, port, "bake_plan")
    with page.expect_download() as started:
        page.get_by_role("button", name="recommendations.csv").click()
    download = started.value
    assert download.suggested_filename == "recommendations.csv"
    header, *rows = Path(download.path()).read_text(encoding="utf-8").splitlines()
    assert header == (
        "product,bakes_week_now,bakes_week_plan,batch_units_now,batch_units_plan,"
        "waste_units_week_now,waste_units_week_plan,shrink_pct_sales_now,shrink_pct_sales_plan,"
        "in_stock_pct_now,in_stock_pct_plan,labour_hours_week_now,labour_hours_week_plan,"
        "loss_week_now,loss_week_plan,saving_week,saving_week_se,evidence,why,"
        "gap_to_optimum_pct,value_of_counting_week,days_left_now,days_left_plan"
    )
    assert len(rows) == 16
    # a download is no reason to compute the page again
    assert page.locator("h1").is_visible()


def test_a_switch_is_answered_in_the_browser(page: Page, port: int) -> None:
    console = Console(page, port)
    open_page(page, port, "line_switch")
    life = page.get_by_label("Shelf life [days]")
    present = int(life.input_value())
    life.fill(str(present + 1))
    page.get_by_role("button", name="Compare").click()
    answer = page.locator("h2").filter(has_text="The week comes out")
    expect(answer).to_be_visible(timeout=LONGEST)
    expect(page.locator('[data-testid="stVegaLiteChart"]')).to_have_count(3, timeout=LONGEST)
    assert scrolls_sideways(page) == []
    assert console.errors == []


def test_the_pages_are_reached_by_their_names(page: Page, port: int) -> None:
    open_page(page, port, "")
    for title, name in (("Bake plan", "bake_plan"), ("Line switch", "line_switch")):
        page.get_by_role("link", name=title).first.click()
        expect(page.locator("h1")).to_have_text(re.compile(PAGES[name].strip("^$")))
        assert page.url.endswith(f"/{name}")


def test_the_server_listens_on_this_machine_only(port: int) -> None:
    listening = set()
    for table in ("/proc/net/tcp", "/proc/net/tcp6"):
        for row in Path(table).read_text(encoding="ascii").splitlines()[1:]:
            local, state = row.split()[1], row.split()[3]
            address, _, its_port = local.partition(":")
            # 0A: listening
            if state == "0A" and int(its_port, 16) == port:
                listening.add(address)
    # 127.0.0.1 as the kernel writes it, lowest byte first
    assert listening == {"0100007F"}
