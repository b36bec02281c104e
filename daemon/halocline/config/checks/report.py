"""What the people side cannot do with its settings."""

import os
import re
from collections.abc import Iterator

from halocline.config.problems import Finding, nearest, quoted
from halocline.plant.command_definitions import COMMANDS, NEVER_FROM_MQTT
from halocline.plant.settings import ReportSettings

_HOST = re.compile(r"[A-Za-z0-9.\-:_\[\]]{1,253}")
_WILDCARDS = re.compile(r"[#+\0]")

FROM_A_BROKER = tuple(command for command in COMMANDS if command not in NEVER_FROM_MQTT)


def an_address_is_given(settings: ReportSettings) -> Iterator[Finding]:
    """The page listens somewhere."""
    host = settings.http.host
    if not _HOST.fullmatch(host):
        remedy = 'write "0.0.0.0" for the boat\'s network or "127.0.0.1" for this computer only'
        yield Finding("http.host", quoted(host), "an address of this computer", remedy)


def host_names_are_host_names(settings: ReportSettings) -> Iterator[Finding]:
    """A name with a scheme or a path never matches what a browser sends."""
    for name in settings.http.allowed_hosts:
        if not _HOST.fullmatch(name):
            remedy = 'write the name alone, as in "boat.local"'
            yield Finding("http.allowed_hosts", quoted(name), "host names", remedy)


def certificate_and_key_go_together(settings: ReportSettings) -> Iterator[Finding]:
    """One without the other serves nothing; a path from nowhere in particular is found by nobody."""
    otherwise = {"http": "for plain http", "mqtt": "where the broker asks for none"}
    for table, without in otherwise.items():
        for own, other in (("certificate", "key"), ("key", "certificate")):
            path = getattr(getattr(settings, table), own)
            if path and not getattr(getattr(settings, table), other):
                remedy = f"name the {other} as well, or leave both out {without}"
                yield Finding(f"{table}.{other}", "nothing", f"a file that belongs to {table}.{own}", remedy)
            if path and not os.path.isabs(path):
                yield _no_whole_path(f"{table}.{own}", path)
    if settings.mqtt.ca and not os.path.isabs(settings.mqtt.ca):
        yield _no_whole_path("mqtt.ca", settings.mqtt.ca)


def files_for_tls_are_used(settings: ReportSettings) -> Iterator[Finding]:
    """Who names certificates believes the connection to be encrypted."""
    mqtt = settings.mqtt
    named = [key for key in ("ca", "certificate", "key") if getattr(mqtt, key)]
    if named and not mqtt.tls:
        found = f"false, with mqtt.{named[0]} named"
        yield Finding("mqtt.tls", found, "true where certificates are named", "write tls = true, or remove the files")


def _no_whole_path(key: str, path: str) -> Finding:
    return Finding(key, quoted(path), "a whole path", 'write it from the root, as in "/etc/halocline/…"')


def broker_is_named(settings: ReportSettings) -> Iterator[Finding]:
    """An enabled broker has a name."""
    if settings.mqtt.enabled and not _HOST.fullmatch(settings.mqtt.host):
        remedy = 'write the broker\'s name or address, as in "localhost"'
        yield Finding("mqtt.host", quoted(settings.mqtt.host), "a host name", remedy)


def topics_can_be_published(settings: ReportSettings) -> Iterator[Finding]:
    """Wildcards are for subscribers."""
    examples = {"prefix": '"boat/water"', "discovery_prefix": '"homeassistant"'}
    for key, example in examples.items():
        prefix = getattr(settings.mqtt, key)
        if _WILDCARDS.search(prefix) or prefix.startswith(("/", "$")) or prefix.endswith("/"):
            allowed = "a topic without # and +, with / only between its parts"
            yield Finding(f"mqtt.{key}", quoted(prefix), allowed, f"write it as in {example}")
    if settings.mqtt.discovery and not settings.mqtt.discovery_prefix:
        remedy = "leave the line out for the usual prefix"
        yield Finding("mqtt.discovery_prefix", quoted(""), "the prefix that the hubs listen to", remedy)


def commands_may_come_from_a_broker(settings: ReportSettings) -> Iterator[Finding]:
    """Some commands are never taken from a broker."""
    for command in settings.mqtt.commands:
        if command not in FROM_A_BROKER:
            near = nearest(command, FROM_A_BROKER)
            never = command in NEVER_FROM_MQTT
            remedy = "remove it: it needs a person at the plant" if never else "remove it"
            if near and not never:
                remedy = f"did you mean {quoted(near)}?"
            yield Finding("mqtt.commands", quoted(command), f"any of {', '.join(FROM_A_BROKER)}", remedy)
