"""Why a broker is not reached, in words a person can act on: what happened, and the remedy. Tables; nothing waits."""

import errno
import os
import socket
import ssl
from collections.abc import Mapping
from dataclasses import dataclass

from paho.mqtt.reasoncodes import ReasonCode

SECRETS_FILE = "report.secrets.toml"


@dataclass(frozen=True, slots=True)
class Failure:
    """What happened, without a full stop, and what to do about it: whole sentences, or nothing."""

    what: str
    do: str = ""

    def __str__(self) -> str:
        return f"{self.what}. {self.do}".rstrip()


UNTRUSTED = Failure(
    "its certificate is signed by nobody this computer trusts",
    "Name the certificate of the authority that signed it in mqtt.ca.",
)

UNVERIFIED: Mapping[int, Failure] = {
    9: Failure(
        "its certificate is not valid yet",
        "Set this computer's clock; if that is right, give the broker a new certificate.",
    ),
    10: Failure(
        "its certificate has expired",
        "Give the broker a new one; if it is not that old, set this computer's clock.",
    ),
    18: Failure(
        "its certificate is signed by itself alone, and this computer does not know it",
        "Copy that certificate to this computer and name it in mqtt.ca.",
    ),
    19: UNTRUSTED,
    20: UNTRUSTED,
    21: UNTRUSTED,
    62: Failure(
        "its certificate is made out to another name",
        "Write the name that stands in the certificate in mqtt.host, or make the certificate out to the present one.",
    ),
    64: Failure(
        "its certificate is not made out to this address",
        "Write the name that stands in the certificate in mqtt.host, or make it out to the address as well.",
    ),
}
"""By the codes X509_V_ERR_… of openssl-verification-options(1) and x509_vfy.h."""

UNVERIFIED_OTHERWISE = "its certificate does not stand the test ({detail})"
UNVERIFIED_DO = "Look at the broker's certificate and at the one that mqtt.ca names."

NO_TLS = Failure(
    "it does not speak TLS there",
    "Write its port for TLS in mqtt.port (usually 8883), or set mqtt.tls = false on a network you trust.",
)
CERTIFICATE_WANTED = Failure(
    "it wants a certificate of ours",
    "Name it in mqtt.certificate and its private key in mqtt.key.",
)
CERTIFICATE_REFUSED = Failure(
    "it refuses our certificate",
    "Have the one that mqtt.certificate names signed by the authority that the broker trusts.",
)
CERTIFICATE_EXPIRED = Failure(
    "our certificate has expired", "Make a new one for mqtt.certificate; if it is not that old, set the broker's clock."
)
CERTIFICATE_REVOKED = Failure("it has revoked our certificate", "Make a new one for mqtt.certificate.")
TOO_OLD = Failure("it speaks only versions of TLS that are not safe any more", "Bring the broker up to date.")

TLS_REASONS: Mapping[str, Failure] = {
    "WRONG_VERSION_NUMBER": NO_TLS,
    "RECORD_LAYER_FAILURE": NO_TLS,
    "PACKET_LENGTH_TOO_LONG": NO_TLS,
    "UNEXPECTED_EOF_WHILE_READING": NO_TLS,
    "TLSV13_ALERT_CERTIFICATE_REQUIRED": CERTIFICATE_WANTED,
    "SSLV3_ALERT_HANDSHAKE_FAILURE": CERTIFICATE_WANTED,
    "TLSV1_ALERT_UNKNOWN_CA": CERTIFICATE_REFUSED,
    "TLSV1_ALERT_ACCESS_DENIED": CERTIFICATE_REFUSED,
    "SSLV3_ALERT_BAD_CERTIFICATE": CERTIFICATE_REFUSED,
    "SSLV3_ALERT_CERTIFICATE_UNKNOWN": CERTIFICATE_REFUSED,
    "SSLV3_ALERT_UNSUPPORTED_CERTIFICATE": CERTIFICATE_REFUSED,
    "SSLV3_ALERT_CERTIFICATE_EXPIRED": CERTIFICATE_EXPIRED,
    "SSLV3_ALERT_CERTIFICATE_REVOKED": CERTIFICATE_REVOKED,
    "TLSV1_ALERT_PROTOCOL_VERSION": TOO_OLD,
    "UNSUPPORTED_PROTOCOL": TOO_OLD,
}
"""By the names of OpenSSL's reasons (sslerr.h)."""

TLS_OTHERWISE = "TLS failed ({detail})"
TLS_DO = "Look at the broker's log, and at the table [mqtt]."

NOT_RUNNING = Failure("nothing listens there", "See that the broker runs, and look at mqtt.host and mqtt.port.")
NO_ROUTE = Failure("no network leads there", "Look at this computer's network, and at mqtt.host.")
NO_NAME = Failure("its name is not known", "Look at mqtt.host, or write the broker's address there.")
NO_REPLY = Failure("it does not answer", "See that it is switched on, and look at mqtt.host and mqtt.port.")
ENDED_PLAIN = Failure(
    "it ended the connection without a word",
    "If this port is for TLS, set mqtt.tls = true; if it is not a broker's, change mqtt.port.",
)
ENDED_TLS = Failure(
    "it ended the connection without a word",
    "Its log says why; it may want a certificate of ours (mqtt.certificate), or another one.",
)

ERRNOS: Mapping[int, Failure] = {
    errno.ECONNREFUSED: NOT_RUNNING,
    errno.EHOSTUNREACH: NO_ROUTE,
    errno.ENETUNREACH: NO_ROUTE,
    errno.ETIMEDOUT: NO_REPLY,
}

REASONS: Mapping[int, Failure] = {
    132: Failure("it does not speak MQTT 5", "Bring the broker up to date."),
    133: Failure("it does not take our name", "Have it allow the client id {client_id}."),
    134: Failure(
        "it does not know this user with this password", "Look at mqtt.username, and at the password in {secrets}."
    ),
    135: Failure("it lets us not in (Not authorized)", "Look at mqtt.username, and at the password in {secrets}."),
    142: Failure(
        "another client has taken our place",
        "Two plants may have the same name: give one another boat.name or mqtt.prefix.",
    ),
    149: Failure("a message was larger than it takes", "Raise its limit (mosquitto: max_packet_size)."),
}
"""By the reason codes of MQTT 5, section 2.4."""


def of_error(error: BaseException | None, *, tls: bool) -> Failure:
    """Why an attempt failed, by what the attempt raised; None: it was ended from the other side."""
    match error:
        case None:
            return ENDED_TLS if tls else ENDED_PLAIN
        case ConnectionResetError() | BrokenPipeError():
            # Before a connection stands, with TLS: in answer to our greeting.
            return NO_TLS if tls else ENDED_PLAIN
        case ssl.SSLCertVerificationError():
            detail = UNVERIFIED_OTHERWISE.format(detail=error.verify_message)
            return UNVERIFIED.get(error.verify_code, Failure(detail, UNVERIFIED_DO))
        case ssl.SSLError():
            reason = error.reason or "no reason given"
            return TLS_REASONS.get(reason, Failure(TLS_OTHERWISE.format(detail=_plain(reason)), TLS_DO))
        case socket.gaierror():
            return NO_NAME
        case TimeoutError():
            return NO_REPLY
        case OSError(errno=int(number)):
            return ERRNOS.get(number, Failure(os.strerror(number), NOT_RUNNING.do))
        case _:
            return Failure(str(error), NOT_RUNNING.do)


def of_reason(reason: ReasonCode, *, client_id: str, secrets: str = SECRETS_FILE) -> Failure:
    """Why the broker did not let us in, or sent us away, by its reason; `secrets`: the file's name for people."""
    known = REASONS.get(reason.value, Failure(f"it refuses us ({reason})", "Its log says why."))
    return Failure(known.what, known.do.format(client_id=client_id, secrets=secrets))


def _plain(reason: str) -> str:
    return reason.lower().replace("_", " ")
