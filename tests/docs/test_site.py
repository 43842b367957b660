"""The site is built without a warning, leads nowhere dead, loads nothing from elsewhere, and leaves nothing undescribed."""

from __future__ import annotations

import runpy
import shutil
import subprocess
import sys
from html.parser import HTMLParser
from importlib.util import find_spec
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"

if str(DOCS) not in sys.path:
    sys.path.insert(0, str(DOCS))


class Page(HTMLParser):
    """The names that a page has, where its links lead, and what it loads."""

    def __init__(self) -> None:
        super().__init__()
        self.names: set[str] = set()
        self.links: list[str] = []
        self.loads: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        self.names |= {value for key in ("id", "name") if (value := said.get(key))}
        if tag == "a" and said.get("href"):
            self.links.append(str(said["href"]))
        self.loads += [str(said[key]) for key in ("src", "href") if tag != "a" and said.get(key)]


def pages_of(site: Path) -> dict[Path, Page]:
    found = {}
    for file in site.rglob("*.html"):
        page = Page()
        page.feed(file.read_text(encoding="utf-8"))
        found[file.resolve()] = page
    return found


def dead(site: Path) -> list[str]:
    """Links within the site to a page or a place that is not there."""
    pages = pages_of(site)
    wrong = []
    for file, page in pages.items():
        for link in [*page.links, *page.loads]:
            parts = urlsplit(link)
            if parts.scheme or parts.netloc:
                continue
            goal = (file.parent / unquote(parts.path)).resolve() if parts.path else file
            lacking = not goal.is_file() or (parts.fragment and goal in pages and unquote(parts.fragment) not in pages[goal].names)
            if lacking:
                wrong.append(f"{file.relative_to(site.resolve())} leads to {link}")
    return wrong


def test_a_dead_link_is_found(tmp_path: Path) -> None:
    (tmp_path / "one.html").write_text('<a href="two.html#there">x</a><a href="#here">x</a><h1 id="here"></h1>', encoding="utf-8")
    (tmp_path / "two.html").write_text('<a href="three.html">x</a><img src="none.svg"><a href="one.html#here">x</a>', encoding="utf-8")
    assert [
        "one.html leads to two.html#there",
        "two.html leads to none.svg",
        "two.html leads to three.html",
    ] == sorted(dead(tmp_path))


@pytest.mark.skipif(
    find_spec("sphinx") is None or find_spec("myst_parser") is None, reason="the extra `docs` is not installed: pip install '.[docs]'"
)
@pytest.mark.long
def test_the_site_is_built_without_a_warning_has_no_dead_link_and_loads_nothing_from_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    source, site = tmp_path / "docs", tmp_path / "site"
    shutil.copytree(DOCS, source, ignore=shutil.ignore_patterns("reference", "__pycache__"))
    # In this process, where other tests use the same samples.
    monkeypatch.setattr(sys, "argv", ["generate.py", str(source / "reference")])
    runpy.run_path(str(DOCS / "generate.py"), run_name="__main__")
    assert ("", True) == ((said := capsys.readouterr()).err, said.out.endswith(f"pages in {source / 'reference'}\n"))
    command = [sys.executable, "-m", "sphinx", "-q", "-W", "-n", "--keep-going", "-b", "html", str(source), str(site)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=120, cwd=tmp_path)
    assert (0, "") == (done.returncode, done.stderr)
    pages = pages_of(site)
    assert len(pages) > 50
    assert [] == dead(site)
    assert [] == [(file.name, to) for file, page in pages.items() for to in [*page.loads, *page.links] if urlsplit(to).netloc]


def test_every_setting_says_what_it_means_and_every_measure_its_unit() -> None:
    from steadyrest.profile_tools import groups

    settings = [setting for group in groups() for setting in group.settings]
    assert len(settings) > 150
    assert [] == [setting.key for setting in settings if not setting.schema.get("description")]
    cure = "say the unit in the setting's description; profile_tools/catalogue.py knows its spellings"
    assert [] == [setting.key for setting in settings if setting.schema.get("type") == "number" and not setting.unit], cure


def test_the_reference_has_every_setting_of_the_model() -> None:
    from steadyrest.profile.inheritance import all_keys
    from steadyrest.profile_tools import general, groups

    settings = {setting.key for group in groups() for setting in group.settings}
    assert {general(key) for key in all_keys()} == settings - {"extends", "drop"}


def test_every_statement_of_a_bundled_profile_has_its_source_on_its_page() -> None:
    from making.stated import bundled

    statements = [statement for profile in bundled() for statement in profile.statements]
    assert len(statements) > 200
    assert [] == [(one.profile, one.key) for one in statements if not one.source]


def test_every_event_fact_and_word_is_described() -> None:
    from making import events

    assert [] == events.undescribed(), "say in its row in src/steadyrest/events.py what it is"


def test_the_verdict_is_described_key_by_key() -> None:
    from making import verdict

    assert [] == verdict.undescribed(), "say in docs/making/verdict.py what the key means; within one schema number keys are only added"


def test_what_commands_print_as_json_is_described_key_by_key() -> None:
    from making import printed

    assert [] == printed.undescribed(), "say in docs/making/printed_keys.py what it is; keys are only added"


def test_a_key_or_kind_that_is_not_described_or_not_there_is_found() -> None:
    from making import printed
    from making.printed_keys import Printed

    described = Printed("", {"list": ("list of objects", ""), "list.one": ("text | null", ""), "list.two": ("number | absent", "")})
    good = {"list": [{"one": "x", "two": 1.5}, {"one": None}]}
    assert [] == list(printed.differences([good], described))
    for wrong, expected in (
        ({"list": [*good["list"], {"one": 2}]}, ["list.one is whole number, and nothing says so"]),
        ({"list": [*good["list"], {}]}, ["list.one is absent, and nothing says so"]),
        ({**good, "more": True}, ["more is true or false, and nothing says so"]),
        ({"list": good["list"][:1]}, ["list.one is said to be null, and never is", "list.two is said to be absent, and never is"]),
    ):
        assert expected == list(printed.differences([wrong], described))


@pytest.mark.skipif(find_spec("uplot") is None or find_spec("matplotlib") is None, reason="the extra `report` is not installed")
@pytest.mark.parametrize(("command", "file"), [("report", "out.html"), ("picture", "out.svg")])
def test_report_and_picture_print_what_is_described(command: str, file: str, tmp_path: Path) -> None:
    from click.testing import CliRunner

    from making import printed, printed_samples
    from making.printed_keys import PRINTED
    from steadyrest.cli import main

    part = str(printed_samples.TOUR / "wrapped.toolpath.json")
    done = CliRunner().invoke(main, [command, part, "--cells", "24x48", "-o", str(tmp_path / file), "--json"])
    assert 0 == done.exit_code, done.output
    found = printed_samples.strictly(done.stdout)
    assert printed_samples.samples()["report"][0] == found
    assert {"findings", *found} == set(found)
    assert [] == [each for each in printed.differences([found], PRINTED["report"]) if "nothing says so" in each]


def test_samples_are_read_as_json_that_knows_no_nan_and_no_infinity() -> None:
    from making import printed_samples

    assert {"low": 1} == printed_samples.strictly('{"low": 1}')
    for word in ("NaN", "Infinity", "-Infinity"):
        with pytest.raises(ValueError, match=f"{word} is no JSON"):
            printed_samples.strictly(f'{{"low": {word}}}')


def test_every_error_and_notice_says_what_it_is() -> None:
    from making import messages
    from steadyrest.errors import SteadyrestError

    assert list(messages.ERROR_KEYS) == list(SteadyrestError("wrong").as_json()["error"])
    assert [] == [each.__name__ for each in messages.error_classes() if not each.__doc__]
    assert [] == [kind for kind, (meaning, _) in messages.KINDS.items() if not meaning or not messages.sample(kind)]


def test_messages_are_taken_from_the_source_with_their_cures() -> None:
    from making import messages

    found = messages.messages()
    assert len(found) > 200
    assert ("ProfileError", "choose a name that only your shop has") in {(each.carrier, each.cure) for each in found}


def test_a_generated_page_of_a_profile_that_is_gone_is_taken_away(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import generate

    monkeypatch.setattr(generate, "pages", lambda: {"profiles/rs274ngc.md": "# rs274ngc\n"})  # tests/docs/test_pictures.py makes them all
    left = tmp_path / "profiles" / "gone.md"
    left.parent.mkdir()
    left.write_text("# gone\n", encoding="utf-8")
    written = generate.generate(tmp_path)
    assert (False, True) == (left.exists(), (tmp_path / "profiles" / "rs274ngc.md") in written)
