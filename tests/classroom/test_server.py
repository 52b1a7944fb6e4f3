"""The server: it opens, answers, finishes what it began, stops, and dies whole."""

from __future__ import annotations

import http.client
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from classroom.server import PortTakenError, Server, is_open_to_network, network_addresses
from tests.support.server import ROOT, program_environment

SLOW = """
import django; django.setup()
import time
from classroom.server import Server
def application(environ, start_response):
    print("asked", flush=True)
    time.sleep(1.5)
    start_response("200 OK", [("Content-Length", "300000")])
    return [b"x" * 300_000]
server = Server("127.0.0.1", 0)
server.run(
    application=application,
    on_ready=lambda: print(server.port, flush=True),
    on_stop=lambda: print("stopping", flush=True),
)
print("stopped", flush=True)
"""

# The answer is with whoever asked before the thread that made it is done with it.
LINGERING = SLOW.replace("    time.sleep(1.5)\n", "").replace(
    'return [b"x" * 300_000]',
    """yield b"x" * 300_000
    time.sleep(1.5)""",
)


def start(script: str, data: Path) -> subprocess.Popen[str]:
    """Run a script that serves; what it prints can be read line by line."""
    return subprocess.Popen(
        [sys.executable, "-c", script],
        cwd=ROOT,
        env=program_environment(data),
        text=True,
        stdout=subprocess.PIPE,
    )


def ask(site, path="/healthz", method="GET", **headers):
    """Return status, headers and body of one request to the site."""
    connection = http.client.HTTPConnection("127.0.0.1", site.port, timeout=60)
    connection.request(method, path, headers=headers)
    answer = connection.getresponse()
    body = answer.read()
    connection.close()
    return answer.status, answer.headers, body


def somebody_listens(port: int) -> bool:
    with socket.socket() as probe:
        probe.settimeout(2)
        return probe.connect_ex(("127.0.0.1", port)) == 0


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_stops_it_cleanly_and_frees_the_port(new_server, number):
    site = new_server()
    assert site.is_healthy()
    assert site.stop(number) == 0
    assert not somebody_listens(site.port)
    assert "".join(site.output).endswith("Stopping …\nStopped.\n")
    site.start()
    assert site.is_healthy()


def test_a_killed_server_leaves_nothing_behind_and_starts_again(new_server):
    site = new_server()
    port = site.port
    site.kill()
    assert not somebody_listens(port)
    site.start()
    assert site.port == port
    assert site.is_healthy()


def test_a_request_under_way_is_answered_before_it_stops(tmp_path):
    process = start(SLOW, tmp_path)
    port = int(process.stdout.readline())
    bodies = []

    def fetch() -> None:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        connection.request("GET", "/")
        bodies.append(len(connection.getresponse().read()))

    asking = threading.Thread(target=fetch)
    asking.start()
    assert process.stdout.readline() == "asked\n"
    process.terminate()
    assert process.stdout.readline() == "stopping\n"
    time.sleep(0.3)
    assert not somebody_listens(port)
    asking.join(60)
    assert bodies == [300_000]
    assert process.wait(60) == 0


@pytest.mark.skipif(sys.platform == "win32", reason="a process cannot be held with a signal there")
def test_requests_that_had_only_just_arrived_are_answered_before_it_stops(new_server):
    """A server that is started anew behind another one drops nobody whom the system let in for it."""
    site = new_server()
    early = socket.create_connection(("127.0.0.1", site.port), timeout=60)
    assert site.is_healthy()  # the early one has been accepted, too, and has said nothing yet
    process = site.process
    process.send_signal(signal.SIGSTOP)
    asking = [socket.create_connection(("127.0.0.1", site.port), timeout=60) for _ in range(30)]
    for one in [early, *asking]:
        one.sendall(b"GET /healthz HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n")
    process.terminate()
    process.send_signal(signal.SIGCONT)
    answers = [b"".join(iter(lambda one=one: one.recv(65_536), b""))[:15] for one in [early, *asking]]
    assert answers == [b"HTTP/1.1 200 OK"] * 31
    assert process.wait(60) == 0


@pytest.mark.skipif(sys.platform == "win32", reason="a process cannot be held with a signal there")
def test_a_request_over_a_kept_connection_that_lies_unread_is_answered_before_it_stops(new_server):
    site = new_server()
    kept = http.client.HTTPConnection("127.0.0.1", site.port, timeout=60)
    kept.request("GET", "/healthz")
    assert kept.getresponse().read()
    process = site.process
    process.send_signal(signal.SIGSTOP)
    kept.request("GET", "/healthz")
    process.terminate()
    process.send_signal(signal.SIGCONT)
    assert kept.getresponse().status == 200
    assert process.wait(60) == 0


def test_a_request_sent_before_the_last_one_was_done_with_is_answered_before_it_stops(tmp_path):
    process = start(LINGERING, tmp_path)
    kept = http.client.HTTPConnection("127.0.0.1", int(process.stdout.readline()), timeout=60)
    kept.request("GET", "/")
    assert len(kept.getresponse().read()) == 300_000
    kept.request("GET", "/")
    process.terminate()
    assert len(kept.getresponse().read()) == 300_000
    assert process.wait(60) == 0


def test_asked_twice_it_stops_at_once(tmp_path):
    process = start(SLOW.replace("1.5", "60"), tmp_path)
    port = int(process.stdout.readline())
    with socket.create_connection(("127.0.0.1", port)) as asking:
        asking.sendall(b"GET / HTTP/1.1\r\nHost: here\r\n\r\n")
        assert process.stdout.readline() == "asked\n"
        process.terminate()
        assert process.stdout.readline() == "stopping\n"
        process.terminate()
        # Not the 0 of a server that waited for the request.
        assert process.wait(60) == 128 + signal.SIGTERM


def test_a_taken_port_is_said_plainly():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(PortTakenError, match=f"Port {port} is in use.*\n.*--port {port + 1}"):
            Server("127.0.0.1", port)


@pytest.mark.parametrize("host", ["no.such.name.invalid", "203.0.113.7", "a b"])
def test_an_address_of_another_machine_is_said_plainly(host):
    with pytest.raises(PortTakenError, match="Cannot listen on"):
        Server(host, 0)


@pytest.mark.parametrize("port", ["-1", "65536", "eighty", "8000.5", "٣"])
def test_a_port_that_is_none_is_refused(tmp_path, port):
    done = manage(tmp_path, "serve", "--port", port)
    assert done.returncode != 0
    assert "is not a port" in done.stderr or "expected one argument" in done.stderr


def manage(data, *arguments, **variables):
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=program_environment(data, variables),
        text=True,
        capture_output=True,
        timeout=180,
    )


def test_a_second_server_on_the_same_data_is_refused(served):
    done = manage(served.data, "serve", "--port", "0")
    assert done.returncode == 1
    assert "is running already" in done.stderr
    assert served.is_healthy()


def test_the_first_start_prints_a_link_for_the_first_teacher_and_keeps_only_its_digest(served):
    token = re.fullmatch(r"/first-teacher/([\w-]{43})/", served.first_teacher_path)[1]
    kept = served.ask_python(
        "from classroom.models import Installation\n"
        "print(json.dumps(Installation.objects.get().first_teacher_token_hash))"
    )
    assert re.fullmatch("[0-9a-f]{64}", kept)
    assert token.encode() not in served.database.read_bytes()


def test_the_link_is_new_at_each_start_and_gone_once_there_is_a_teacher(new_server):
    site = new_server()
    first = site.first_teacher_path
    site.restart()
    assert site.first_teacher_path not in ("", first)
    site.run_python(
        "from django.contrib.auth import get_user_model\n"
        "get_user_model().objects.create_user('teacher', password='sea-glass-4711')"
    )
    site.restart()
    assert site.first_teacher_path == ""


def test_serve_says_what_plain_http_leaves_out(served):
    text = "".join(served.output)
    assert "This is plain HTTP. It leaves out" in text
    assert "secure cookies: " in text
    assert "SECOND_BUILD_HTTPS=1" in text


def test_serve_leaves_a_demo_database_alone(tmp_path):
    manage(tmp_path, "migrate", "-v", "0")
    code = "import django; django.setup(); from classroom.models import Installation; "
    code += "Installation(pk=1, demo=True).save()"
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, env=program_environment(tmp_path), check=True)
    done = manage(tmp_path, "serve", "--port", "0")
    assert done.returncode == 1
    assert "holds the invented class" in done.stderr


def test_behind_a_tls_proxy_cookies_are_secure_and_plain_requests_are_sent_to_https(new_server):
    site = new_server({"SECOND_BUILD_HTTPS": "1"})
    status, headers, _ = ask(site, "/no-such-page", Host="school.lan")
    assert status == 301
    assert headers["Location"] == "https://school.lan/no-such-page"
    status, headers, _ = ask(site, "/no-such-page", Host="school.lan", **{"X-Forwarded-Proto": "https"})
    assert status == 404
    assert headers["Strict-Transport-Security"] == f"max-age={30 * 24 * 60 * 60}"
    assert all("Secure" in cookie for cookie in headers.get_all("Set-Cookie", []))
    assert "plain HTTP" not in "".join(site.output)


def test_only_the_named_proxy_may_say_that_a_request_came_over_https(new_server):
    site = new_server({"SECOND_BUILD_HTTPS": "1", "SECOND_BUILD_PROXY": "10.9.8.7"})
    assert ask(site, "/no-such-page", **{"X-Forwarded-Proto": "https"})[0] == 301


WRONG_CODES_FROM = """
from classroom.models import WrongTry
print(json.dumps(WrongTry.objects.filter(door="join").values("who").distinct().count()))
"""


@pytest.mark.parametrize(("variables", "addresses"), [({"SECOND_BUILD_HTTPS": "1"}, 3), ({}, 1)])
def test_behind_the_named_proxy_alone_each_sender_counts_by_its_own_address(new_server, variables, addresses):
    site = new_server(variables)
    for sender in ("10.1.1.1", "10.1.1.2", "10.1.1.3", "10.1.1.1"):
        forwarded = {"X-Forwarded-Proto": "https", "X-Forwarded-For": sender}
        status, _, _ = ask(site, "/join/NOSUCH/ACDEFGHJKMNP/", Host="school.lan", **forwarded)
        assert status == 200
    assert site.ask_python(WRONG_CODES_FROM) == addresses


def test_without_https_nobody_can_pretend_it(served):
    _, headers, _ = ask(served, Host="school.lan", **{"X-Forwarded-Proto": "https"})
    assert "Strict-Transport-Security" not in headers
    assert "Cross-Origin-Opener-Policy" not in headers


def test_pages_are_compressed_and_static_files_are_compressed_beforehand_and_kept_for_ever(served):
    _, headers, body = ask(served, "/no-such-page", **{"Accept-Encoding": "gzip, br"})
    assert headers["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in headers["Vary"]
    plain = ask(served, "/no-such-page")[2].decode()
    assert len(body) < len(plain.encode())
    style = re.search(r'href="(/static/css/[^"]+\.css)"', plain)[1]
    assert re.search(r"\.[0-9a-f]{12}\.css$", style)
    status, headers, body = ask(served, style, **{"Accept-Encoding": "gzip, br"})
    assert status == 200
    assert headers["Content-Encoding"] == "br"
    assert "immutable" in headers["Cache-Control"]
    assert headers["Content-Security-Policy"]
    assert len(body) < len(ask(served, style)[2])


def test_a_hundred_tablets_at_once_are_all_answered(served):
    statuses = []

    def fetch() -> None:
        statuses.append(ask(served)[0])

    asking = [threading.Thread(target=fetch) for _ in range(100)]
    for one in asking:
        one.start()
    for one in asking:
        one.join(120)
    assert statuses == [200] * 100


def test_a_tablet_that_dawdles_holds_nobody_up(served):
    """More half-sent requests than there are threads; a whole one is answered all the same."""
    dawdling = [socket.create_connection(("127.0.0.1", served.port)) for _ in range(12)]
    for one in dawdling:
        one.sendall(b"POST /healthz HTTP/1.1\r\nHost: here\r\nContent-Length: 1000\r\n\r\nhalf")
    assert ask(served)[0] == 200
    for one in dawdling:
        one.close()


def test_addresses_of_this_machine_are_addresses_that_it_can_listen_on():
    for address in network_addresses():
        assert not address.startswith("127.")
        with socket.socket() as probe:
            probe.bind((address, 0))


def test_only_loopback_is_closed_to_the_network():
    assert is_open_to_network("0.0.0.0")  # noqa: S104
    assert is_open_to_network("192.168.0.9")
    assert not is_open_to_network("127.0.0.1")
    assert not is_open_to_network("localhost")
    assert not is_open_to_network("::1")
