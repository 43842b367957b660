"""Nobody but the user's own browser is let in, and what it gets stays on this machine. Each attack is tried."""

from __future__ import annotations

from pathlib import Path

import pytest
from page_client import HOST, TOKEN, client
from starlette.testclient import TestClient

from steadyrest.page import guard


@pytest.fixture
def own(tmp_path: Path) -> TestClient:
    (tmp_path / "parts").mkdir()
    return client(tmp_path / "parts", tmp_path / "work")


def test_the_browser_of_the_user_is_let_in(own: TestClient) -> None:
    answer = own.get("")
    assert 200 == answer.status_code
    assert "Parts in" in answer.text


@pytest.mark.parametrize("path", ["/", "/x", "//", f"/{TOKEN}x/", f"/{TOKEN[:-1]}/", f"/x/../{TOKEN[1:]}/", "/static/page.css"])
def test_an_address_without_the_token_is_as_if_there_were_nothing(own: TestClient, path: str) -> None:
    answer = own.get(f"http://{HOST}{path}")
    assert 404 == answer.status_code
    assert TOKEN not in answer.text


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost.evil.example:4711", f"evil.example@{HOST}", ""])
def test_a_name_that_points_here_does_not_open_the_page(own: TestClient, host: str) -> None:
    """DNS rebinding: the address bar of the attacker's page shows its own name, and so does the Host."""
    assert 421 == own.get("", headers={"host": host}).status_code


@pytest.mark.parametrize("origin", ["http://evil.example", "null", f"https://{HOST}", "http://127.0.0.1:1", f"http://{HOST}.evil.example"])
def test_another_page_in_the_same_browser_changes_and_reads_nothing(own: TestClient, origin: str) -> None:
    assert 403 == own.post("task/a/cancel", headers={"origin": origin}).status_code
    assert 403 == own.get("", headers={"origin": origin}).status_code


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_a_link_or_picture_on_another_page_is_refused(own: TestClient, site: str) -> None:
    del own.headers["origin"]
    assert 403 == own.get("", headers={"sec-fetch-site": site}).status_code


def test_a_change_without_an_origin_is_refused(own: TestClient) -> None:
    del own.headers["origin"]
    assert 200 == own.get("").status_code
    assert 403 == own.post("task/a/cancel").status_code


def test_every_answer_has_the_strict_policy_also_one_that_refuses(own: TestClient) -> None:
    for answer in (own.get(""), own.get("static/page.css"), own.get("nothing"), own.get(f"http://{HOST}/")):
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "nosniff" == answer.headers["x-content-type-options"]
        assert "same-origin" == answer.headers["referrer-policy"]
        assert "no-store" == answer.headers["cache-control"]
        assert "access-control-allow-origin" not in answer.headers


def test_a_request_that_is_too_long_is_refused_before_it_is_read(own: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard, "MOST_BYTES", 1000)
    assert 413 == own.post("task/a/cancel", content=b"x" * 1001).status_code
    assert 413 == own.post("task/a/cancel", headers={"content-length": "-1"}).status_code


def test_a_name_that_leads_out_of_the_folder_opens_nothing(own: TestClient, tmp_path: Path) -> None:
    (tmp_path / "secret.job.toml").write_text("steadyrest_job = 1\nname = 'a secret'\n", encoding="utf-8")
    for path in ("static/../../guard.py", "static/%2e%2e/guard.py", "static/..%2fguard.py", "static//etc/passwd", "static/%2fetc/passwd"):
        assert 404 == own.get(path).status_code


def test_a_page_that_is_not_there_is_told_in_words(own: TestClient) -> None:
    answer = own.get("nothing")
    assert 404 == answer.status_code
    assert "there is no such page" in answer.text
