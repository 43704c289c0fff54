"""Who may look and who may write: hosts, origins, tokens, keys, sizes, paths, and text that is code."""

from __future__ import annotations

import http.client
import socket
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlencode

import httpx
import pytest
from tests.page.kit import PAGES, Bench, fields_of, text_of

from waitwright.api.new import copy_packed
from waitwright.page.door import Door, new_key
from waitwright.page.guard import HEADERS, MOST_BODY, POLICY
from waitwright.trials.store import LogbookStore

DEEDS = ("/record", "/undo", "/copy")
FORM = {"content-type": "application/x-www-form-urlencoded"}


def trials(bench: Bench) -> int:
    """How many trials the logbook holds."""
    return len(LogbookStore.beside(bench.profile).read().trials)


def one_line(answer: httpx.Response) -> str:
    """The words of an error page, which shows no trace of code."""
    words = text_of(answer.text)
    assert "Traceback" not in words and ".py" not in words and "{" not in words
    assert len(words) < 500
    return words


# -------------------------------------------------------------------------------------- hosts


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:80", "127.0.0.1", "127.0.0.1.evil.example", "localhost", ""]
)
def test_another_host_is_refused(bench: Bench, host: str) -> None:
    """A name that merely points here, as in an attack by rebinding, gets no page and no cookie."""
    answer = httpx.get(f"{bench.url}/", headers={"host": host})

    assert answer.status_code in {400, 421}
    assert "set-cookie" not in answer.headers


def test_two_hosts_are_refused(bench: Bench) -> None:
    """A request with two Host headers is not taken at either's word."""
    name, port = bench.host.split(":")
    with socket.create_connection((name, int(port)), timeout=10) as line:
        line.sendall(f"GET / HTTP/1.1\r\nHost: {bench.host}\r\nHost: evil.example\r\n\r\n".encode())
        assert line.recv(200).split()[1] in {b"400", b"421"}


def test_both_own_names_are_taken(bench: Bench) -> None:
    """The page answers to its number and to the name of the own machine."""
    port = bench.host.split(":")[1]

    assert httpx.get(f"{bench.url}/bench.css").status_code == 200
    assert httpx.get(f"{bench.url}/bench.css", headers={"host": f"LOCALHOST:{port}"}).status_code == 200


# ------------------------------------------------------------------------- origins and tokens


@pytest.mark.parametrize("path", DEEDS)
@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:1"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_a_form_of_another_origin_is_refused(bench: Bench, path: str, headers: dict[str, str]) -> None:
    """A form that another page sends is refused even with a cookie and a good token."""
    with bench.client() as client:
        answer = client.post(path, data={"token": bench.token(client)}, headers=headers)

    assert answer.status_code == 403
    assert "only forms of this bench" in one_line(answer)
    assert trials(bench) == 0


@pytest.mark.parametrize("path", DEEDS)
@pytest.mark.parametrize("given", [None, "", "0" * 64, "é", "another session's"])
def test_a_form_without_its_token_is_refused(bench: Bench, path: str, given: str | None) -> None:
    """A form with no token, a forged one or that of another session changes nothing."""
    with bench.client() as client, bench.client() as other:
        if given == "another session's":
            given = bench.token(other)
        answer = client.post(path, content=urlencode({} if given is None else {"token": given}), headers=FORM)

    assert answer.status_code == 403
    assert "load the page again" in one_line(answer)
    assert trials(bench) == 0


@pytest.mark.parametrize("path", ["/live", "/bench.js", "/why.json", "/"])
@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_other_pages_may_link_here_and_load_nothing(bench: Bench, path: str, site: str) -> None:
    """A link from elsewhere may be followed; a page from elsewhere loads neither news, data nor code."""
    loads = {"sec-fetch-site": site, "sec-fetch-mode": "no-cors"}
    follows = {"sec-fetch-site": site, "sec-fetch-mode": "navigate"}

    assert httpx.get(bench.url + path, headers=loads).status_code == 403
    assert httpx.get(bench.url + path, headers={"origin": "http://evil.example"}).status_code == 403
    assert httpx.head(bench.url + path, headers=follows, timeout=60).status_code == 200


def test_a_forged_cookie_is_no_session(bench: Bench) -> None:
    """A cookie that was not made here is replaced, and its token counts for nothing."""
    name = f"bench-{bench.host.split(':')[1]}"
    forged = "abc." + "0" * 64

    answer = httpx.post(
        f"{bench.url}/undo", data={"token": bench.door.token(forged)}, headers={"cookie": f"{name}={forged}"}
    )

    assert answer.status_code == 403
    assert answer.headers["set-cookie"].startswith(f"{name}=")


def test_the_cookie_is_for_this_page_only(bench: Bench) -> None:
    """The session's cookie is out of reach of scripts and of other sites."""
    cookie = httpx.get(f"{bench.url}/").headers["set-cookie"]

    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(cookie.split("; "))


# --------------------------------------------------------------------------------------- keys


TOLD: list[str] = []
"""Keys that the terminal showed after the first."""


@pytest.fixture(scope="module")
def locked(serve: Callable[..., Bench], tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """A bench that asks for a key."""
    path = copy_packed("tollgate-386dx33", tmp_path_factory.mktemp("locked") / "bench.toml")
    return serve(path, Door(new_key(), TOLD.append))


@pytest.mark.parametrize("path", [*PAGES, "/why.json", "/live", "/bench.js", "/nothing"])
def test_a_locked_bench_shows_nothing_without_its_key(locked: Bench, path: str) -> None:
    """Without a key there is no page, no data and no news."""
    answer = httpx.get(locked.url + path)

    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers
    assert "Tollgate" not in answer.text


@pytest.mark.parametrize("path", DEEDS)
def test_a_locked_bench_takes_nothing_without_its_key(locked: Bench, path: str) -> None:
    """Without a key no form is taken, not even with the key inside."""
    answer = httpx.post(f"{locked.url}{path}", data={"key": locked.door.key, "token": ""})

    assert answer.status_code == 403
    assert trials(locked) == 0


@pytest.mark.parametrize("key", ["", "wrong", "0000-0000-0000-0000-0000", "%00", "é"])
def test_a_wrong_key_opens_nothing(locked: Bench, key: str) -> None:
    """A wrong key gets no session, and does not use up the right one."""
    right = locked.door.key
    answer = httpx.get(f"{locked.url}/", params={"key": key})

    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers
    assert locked.door.key == right


def test_a_key_opens_once(locked: Bench) -> None:
    """The key becomes a session and is void; the next device needs the next key, which is shown then."""
    key = locked.door.key
    with httpx.Client(base_url=locked.url, timeout=60) as first, httpx.Client(base_url=locked.url) as second:
        answer = first.get("/", params={"key": key})
        assert (answer.status_code, answer.headers["location"]) == (303, "/")
        assert first.get("/margins?wait=1").status_code == 200

        assert second.get("/", params={"key": key}).status_code == 403
        assert TOLD[-1] == locked.door.key
        assert second.get("/", params={"key": TOLD[-1].upper().replace("-", " ")}).status_code == 303
        assert second.get("/bench.js").status_code == 200


def test_keys_are_long_and_differ() -> None:
    """A key has some 99 bits, in signs that are hard to mistake."""
    keys = {new_key() for _ in range(200)}

    assert len(keys) == 200
    assert all(len(key.replace("-", "")) == 20 and not set(key) & set("01ilo") for key in keys)


# -------------------------------------------------------------------------------------- sizes


def test_a_large_body_is_refused(bench: Bench) -> None:
    """A body that says that it is too large is refused before it is read."""
    with bench.client() as client:
        answer = client.post("/record", content=b"a=" + b"b" * MOST_BODY, headers=FORM)

    assert answer.status_code == 413
    assert "64 KB" in one_line(answer)


def test_a_large_body_in_chunks_is_refused(bench: Bench) -> None:
    """A body that does not say how large it is ends where it has grown too large."""

    def chunks() -> Iterator[bytes]:
        yield b"note="
        for _ in range(40):
            yield b"b" * 4096

    with bench.client() as client:
        try:
            answer = client.post("/record", content=chunks(), headers=FORM)
        except httpx.HTTPError:  # the line may be cut while we still send
            pass
        else:
            assert answer.status_code == 413
        assert client.get("/bench.css").status_code == 200
    assert trials(bench) == 0


@pytest.mark.parametrize("length", ["-1", "1e3", "99999999999999999999999"])
def test_a_false_length_is_refused(bench: Bench, length: str) -> None:
    """A length that is no length gets an error and no page."""
    name, port = bench.host.split(":")
    with socket.create_connection((name, int(port)), timeout=10) as line:
        line.sendall(
            f"POST /record HTTP/1.1\r\nHost: {bench.host}\r\nContent-Length: {length}\r\n\r\n".encode()
        )
        assert line.recv(200).split()[1] in {b"400", b"413"}


def test_a_long_address_is_refused(bench: Bench) -> None:
    """An address with too much behind the question mark is not read."""
    answer = httpx.get(f"{bench.url}/why", params={"set": "a" * 20_000})

    assert answer.status_code == 414


def test_too_many_fields_are_refused(bench: Bench) -> None:
    """A form of thousands of fields is refused with one line."""
    with bench.client() as client:
        answer = client.post("/record", content="a=&" * 2000, headers=FORM)

    assert answer.status_code == 400
    assert "at most 400 fields" in one_line(answer)


@pytest.mark.parametrize("kind", ["", "text/plain", "application/json", "multipart/form-data; boundary=x"])
def test_only_plain_forms_are_taken(bench: Bench, kind: str) -> None:
    """What is no plain form, as another page could send without asking, is not read."""
    with bench.client() as client:
        body = urlencode({"token": bench.token(client)})
        answer = client.post("/undo", content=body, headers={"content-type": kind} if kind else {})

    assert answer.status_code == 415


@pytest.mark.parametrize("body", [b"token=%ff", b"\xff\xfe", b"%zz=%zz", b"a;b;c", b"=&=&="])
def test_garbled_forms_are_refused(bench: Bench, body: bytes) -> None:
    """Bytes that are no text never reach the logbook, and end in one line."""
    with bench.client() as client:
        answer = client.post("/record", content=body, headers=FORM)

    assert answer.status_code in {400, 403}
    one_line(answer)


# ---------------------------------------------------------------------------- paths and methods


@pytest.mark.parametrize(
    "path",
    [
        "/../bench.toml",
        "/..%2fbench.toml",
        "/%2e%2e/%2e%2e/etc/passwd",
        "//etc/passwd",
        "/bench.css/../../bench.toml",
        "/bench.css%00.html",
        "/%00",
        "/bench.toml",
        "/bench.logbook.toml",
        "/templates/page.html",
        "/static/bench.css",
        "/BENCH.CSS",
        "/..\\bench.toml",
        "/trial/",
        "/why.json/..",
    ],
)
def test_no_path_leads_to_a_file(bench: Bench, path: str) -> None:
    """Only the few known addresses lead anywhere; none is ever looked up as a file."""
    line = http.client.HTTPConnection(bench.host, timeout=20)
    line.request("GET", path)
    answer = line.getresponse()
    body = answer.read().decode()
    line.close()

    assert answer.status == 404
    assert "root:" not in body and "schema = 1" not in body


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW"])
def test_other_methods_are_refused(bench: Bench, path: str, method: str) -> None:
    """A page can be looked at, and nothing else."""
    answer = httpx.request(method, bench.url + path)

    assert answer.status_code == 405
    assert "access-control-allow-origin" not in answer.headers


@pytest.mark.parametrize("path", DEEDS)
@pytest.mark.parametrize("method", ["GET", "HEAD", "OPTIONS"])
def test_nothing_is_done_by_looking(bench: Bench, path: str, method: str) -> None:
    """No address that changes anything can be followed as a link."""
    assert httpx.request(method, bench.url + path).status_code == 405


def test_head_has_no_body(bench: Bench) -> None:
    """HEAD gives the headers of the page and nothing of it."""
    answer = httpx.head(f"{bench.url}/margins", timeout=60)

    assert answer.status_code == 200
    assert not answer.content


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/", 200),
        ("GET", "/bench.js", 200),
        ("GET", "/why.json", 200),
        ("GET", "/nothing", 404),
        ("GET", "/why?soak=x", 400),
        ("GET", "/why?set=a%3Db", 422),
        ("PUT", "/", 405),
        ("POST", "/record", 415),
        ("GET", f"/why?set={'a' * 20_000}", 414),
        ("GET", "/why?part=cpu%3Dnone", 422),
    ],
)
def test_every_answer_is_guarded(bench: Bench, method: str, path: str, status: int) -> None:
    """Each answer, errors included, carries the policy and all other headers once, and names no server."""
    answer = httpx.request(method, bench.url + path, timeout=60)

    assert answer.status_code == status
    assert answer.headers["content-security-policy"] == POLICY
    names = [name for name, _ in answer.headers.multi_items()]
    assert all(names.count(name) == 1 for name in HEADERS)
    assert "server" not in answer.headers


def test_the_policy_allows_only_own_files() -> None:
    """Nothing is loaded from elsewhere, no code or style stands in a page, and no other page may frame it."""
    rules = dict(rule.split(" ", 1) for rule in POLICY.split("; "))

    assert rules["default-src"] == "'none'"
    assert set(rules.values()) <= {"'none'", "'self'", "'self' data:"}
    assert rules["frame-ancestors"] == rules["base-uri"] == "'none'"


# ------------------------------------------------------------------------------- text and code

CODE = "<script>alert(1)</script><img src=x onerror=alert(2)>'\"&{{ 7 * 7 }}"


def test_code_in_a_profile_is_shown_as_text(serve: Callable[..., Bench], tmp_path: Path) -> None:
    """A title, a note and a label that look like code stand on every page as the letters that they are."""
    path = copy_packed("tollgate-386dx33", tmp_path / "bench.toml")
    text = path.read_text("utf-8").replace(
        'title = "Tollgate workshop: 386DX-33 with 256 KB cache"', f"title = '''{CODE}'''"
    )
    begin = text.index('note = """')
    text = f"{text[:begin]}note = '''{CODE}'''{text[text.index('board = ') - 1 :]}"
    labels = f"\n[labels]\ncache-read = '''{CODE}'''\n\"cache-read.2-1-1-1\" = '''{CODE}'''\n"
    path.write_text(text.replace("\n[proven]", f"{labels}\n[proven]"), "utf-8")
    bench = serve(path)

    with bench.client() as client:
        for page in (*PAGES, "/why?set=cache-read%3D2-1-1-1", "/trial?wait=1", "/fastest?wait=1", "/nothing"):
            shown = client.get(page).text
            assert "<script>alert" not in shown
            assert "<img src=x" not in shown
            assert "&amp;49" not in shown
        assert "&lt;script&gt;alert(1)" in client.get("/").text
        assert "&lt;script&gt;alert(1)" in client.get("/why?set=cache-read%3D2-1-1-1").text


@pytest.mark.parametrize(
    ("page", "name"),
    [
        ("/why", "set"),
        ("/why", "soak"),
        ("/why.json", "workload"),
        ("/margins", "part"),
        ("/margin", "rule"),
        ("/fastest", "exactly"),
        ("/fastest", "fix"),
        ("/spares", "odds"),
        ("/trial", "mode"),
        ("/logbook", "told"),
    ],
)
def test_code_in_an_address_is_shown_as_text(bench: Bench, page: str, name: str) -> None:
    """Whatever stands in an address comes back as letters, or not at all, and data are data."""
    with bench.client() as client:
        answer = client.get(page, params={name: CODE, "wait": "1"})

    if page.endswith(".json"):
        assert answer.headers["content-type"] == "application/json"
        assert answer.headers["x-content-type-options"] == "nosniff"
    else:
        assert "<script>alert" not in answer.text and "<img src=x" not in answer.text


def test_code_in_a_note_is_shown_as_text(own: Bench) -> None:
    """A note that looks like code is kept as it is and shown as letters; so is one that comes back."""
    with own.client() as client:
        form = fields_of(client.get("/trial?wait=1").text, "/record")
        again = client.post(
            "/record", data={**form, "outcome": "stable", "hours": "x", "note": CODE, "where": CODE}
        )
        assert again.status_code == 422
        assert "<script>alert" not in again.text and "&lt;script&gt;alert(1)" in again.text

        assert client.post("/record", data={**form, "outcome": "stable", "note": CODE}).status_code == 303
        shown = client.get("/logbook").text
    assert "<script>alert" not in shown and "<img src=x" not in shown
    assert "&lt;script&gt;alert(1)" in shown
    assert LogbookStore.beside(own.profile).read().trials[-1].note == CODE
