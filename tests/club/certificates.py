"""Certificates as Mosquitto's manual makes them (mosquitto-tls(7)), by openssl."""

from __future__ import annotations

import subprocess
from pathlib import Path


def authority(folder: Path, name: str) -> None:
    """An authority, and a broker's certificate that it has signed: NAME-broker.pem and .key."""
    _run(
        folder,
        f"openssl req -x509 -newkey rsa:2048 -nodes -days 2 -subj /CN={name} "
        f"-keyout {name}.key -out {name}.pem",
    )
    certificate(folder, name, f"{name}-broker")


def certificate(
    folder: Path, signer: str, name: str, *, days: int = 2, called: str = "IP:127.0.0.1"
) -> tuple[Path, Path]:
    """A broker's certificate and its key; ``called`` is whose it is, ``days`` how long it holds."""
    request = f"openssl req -newkey rsa:2048 -nodes -subj /CN=broker -keyout {name}.key"
    _run(folder, f"{request} -out {name}.csr")
    (folder / f"{name}.san").write_text(f"subjectAltName={called}\n")
    signing = f"openssl x509 -req -in {name}.csr -CA {signer}.pem -CAkey {signer}.key"
    _run(folder, f"{signing} -CAcreateserial -days {days} -extfile {name}.san -out {name}.pem")
    return folder / f"{name}.pem", folder / f"{name}.key"


def _run(folder: Path, command: str) -> None:
    subprocess.run(command.split(), cwd=folder, check=True, capture_output=True)
