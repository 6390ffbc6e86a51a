"""A certificate of our own making, for a phone in the same house: cameras and service workers need HTTPS."""

import ipaddress
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

DAYS = 397  # browsers refuse longer ones (CA/Browser Forum Baseline Requirements 6.3.2, from memory)
RENEW_BEFORE = timedelta(days=30)


def own_certificate(folder: Path, names: list[str]) -> tuple[Path, Path]:
    """The paths of a self-signed certificate for ``names`` (host names or IP addresses) and of its key.

    Made in ``folder`` (the key with mode 0600); made again when it runs out within 30 days or the names are others.
    """
    certificate, key = folder / "certificate.pem", folder / "key.pem"
    if not (certificate.is_file() and key.is_file() and _still_good(certificate, names)):
        folder.mkdir(parents=True, exist_ok=True)
        _make(certificate, key, names)
    return certificate, key


def _still_good(path: Path, names: list[str]) -> bool:
    kept = x509.load_pem_x509_certificate(path.read_bytes())
    if kept.not_valid_after_utc - datetime.now(UTC) < RENEW_BEFORE:
        return False
    alternative = kept.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return list(alternative) == _general_names(names)


def _make(certificate: Path, key: Path, names: list[str]) -> None:
    private = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "Rooftally, self-signed")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(private.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + timedelta(days=DAYS))
        .add_extension(x509.SubjectAlternativeName(_general_names(names)), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .sign(private, hashes.SHA256())
    )
    key.unlink(missing_ok=True)
    descriptor = os.open(key, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as stream:
        stream.write(
            private.private_bytes(
                serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
            )
        )
    certificate.write_bytes(made.public_bytes(serialization.Encoding.PEM))


def _general_names(names: list[str]) -> list[x509.GeneralName]:
    found: list[x509.GeneralName] = []
    for name in names:
        try:
            found.append(x509.IPAddress(ipaddress.ip_address(name.strip("[]"))))
        except ValueError:
            found.append(x509.DNSName(name))
    return found
