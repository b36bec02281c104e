"""Where a phone reaches the page, and whether its camera can read that."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest
import zxingcpp

from halocline.report.addresses import Interface, Served, best, interfaces_now, places
from halocline.report.http.address import qr_lines, qr_svg
from halocline.report.http.guards import is_local_address

WIFI = Interface("wlan0", "192.168.4.1", wireless=True)
CABLE = Interface("eth0", "10.0.0.7")
TUNNEL = Interface("tun0", "10.8.0.2", real=False)
LOOPBACK = Interface("lo", "127.0.0.1", real=False)
NO_LEASE = Interface("eth1", "169.254.7.7")
OUTSIDE = Interface("wwan0", "93.184.216.34")
EVERYWHERE = Served("0.0.0.0", 8080, name="cagarra")


def urls(found):
    return [place.url for place in found]


def test_the_wireless_network_comes_first_for_that_is_where_phones_are():
    found = places(EVERYWHERE, [CABLE, LOOPBACK, NO_LEASE, OUTSIDE, TUNNEL, WIFI])
    assert urls(found) == [
        "http://192.168.4.1:8080/",
        "http://10.0.0.7:8080/",
        "http://10.8.0.2:8080/",
        "http://169.254.7.7:8080/",
        "http://cagarra.local:8080/",
        "http://127.0.0.1:8080/",
    ]
    assert best(found).url == "http://192.168.4.1:8080/"


def test_before_it_comes_the_network_by_which_the_one_who_asks_came():
    assert urls(places(EVERYWHERE, [WIFI, CABLE], "10.0.0.7"))[0] == "http://10.0.0.7:8080/"
    assert urls(places(EVERYWHERE, [WIFI, CABLE], "127.0.0.1"))[0] == "http://192.168.4.1:8080/"


def test_with_https_the_name_comes_first_for_a_certificate_is_made_out_to_it():
    served = Served("0.0.0.0", 8443, "https", "cagarra")
    assert urls(places(served, [WIFI]))[:2] == ["https://cagarra.local:8443/", "https://192.168.4.1:8443/"]


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "::1", "[::1]"])
def test_a_page_for_this_computer_only_says_so(host):
    found = places(Served(host, 8080, name="cagarra"), [WIFI])
    assert [place.kind for place in found] == ["this_computer"]
    assert best(found) is None


def test_without_a_network_only_this_computer_reaches_the_page():
    assert urls(places(EVERYWHERE, [LOOPBACK])) == ["http://127.0.0.1:8080/"]


def test_a_configured_address_is_the_only_one_besides_the_name():
    found = places(Served("192.168.4.1", 8080, name="cagarra"), [WIFI, CABLE])
    assert urls(found) == ["http://192.168.4.1:8080/", "http://cagarra.local:8080/"]


@pytest.mark.parametrize(
    ("served", "url"),
    [
        (Served("0.0.0.0", 8080), "http://127.0.0.1:8080/"),
        (Served("::", 8080), "http://[::1]:8080/"),
        (Served("192.168.1.2", 80), "http://192.168.1.2/"),
        (Served("fd00::2", 443, "https"), "https://[fd00::2]/"),
    ],
)
def test_addresses_are_such_as_a_browser_takes(served, url):
    assert served.own_url == url


def test_the_kernel_is_asked_for_the_networks_of_this_computer(tmp_path):
    (found,) = [one for one in interfaces_now() if one.name == "lo"]
    assert found.address == "127.0.0.1"
    assert not found.real
    assert interfaces_now(tmp_path / "no such folder") == []


def test_every_address_that_is_given_out_is_one_the_page_answers_to():
    """What a phone reads from the code must pass the allow-list of host names."""
    for place in places(EVERYWHERE, [WIFI, CABLE, TUNNEL, NO_LEASE]):
        host = re.match(r"http://([^:/]+)", place.url)[1]
        assert is_local_address(host) or host == "cagarra.local"


def _modules(svg):
    """The picture as a matrix of grey, eight pixels to a module, from the strokes of the SVG's path."""
    root = ElementTree.fromstring(svg)
    side = int(root.get("viewBox").split()[2])
    picture = np.full((side, side), 255, np.uint8)
    x, y = 0.0, 0.0
    for letter, numbers in re.findall(r"([Mmh])([-\d. ]+)", root[-1].get("d")):
        step = [float(number) for number in re.findall(r"-?[\d.]+", numbers)]
        if letter == "h":
            picture[int(y), int(x) : int(x + step[0])] = 0
            x += step[0]
        else:
            x, y = (step[0], step[1]) if letter == "M" else (x + step[0], y + step[1])
    return np.kron(picture, np.ones((8, 8), np.uint8))


LIGHT = {"█": (1, 1), "▀": (1, 0), "▄": (0, 1), " ": (0, 0)}


@pytest.mark.parametrize("url", ["http://192.168.4.1:8080/", "https://a-long-name-of-a-boat.local:65535/"])
def test_a_camera_reads_the_code_on_the_page_and_in_the_terminal(url):
    """Read by zxing, a decoder that has nothing to do with the encoder."""
    assert zxingcpp.read_barcode(_modules(qr_svg(url))).text == url
    halves = [[LIGHT[letter] for letter in line] for line in qr_lines(url)]
    rows = [[letter[half] * 255 for letter in line] for line in halves for half in (0, 1)]
    picture = np.kron(np.array(rows, np.uint8), np.ones((8, 8), np.uint8))
    assert zxingcpp.read_barcode(picture).text == url
