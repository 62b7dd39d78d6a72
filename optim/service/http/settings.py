"""What a service is started with."""

from dataclasses import dataclass, field
from ipaddress import ip_address
from pathlib import Path

from optim.service.errors import RequestError


@dataclass(frozen=True)
class Allowance:
    """How much one person may ask for.

    Attributes
    ----------
    study_bytes : int
        Longest study or other request body [bytes].
    variables : int
        Variables of a study.
    budget : int
        Evaluations of one run.
    runs_waiting : int
        Runs of one owner that wait or run at a time.
    requests_per_second : float
        On average; 0 for no limit. Ten times as many may come at once.
    """

    study_bytes: int = 1_000_000
    variables: int = 60
    budget: int = 100_000
    runs_waiting: int = 50
    requests_per_second: float = 50.0


@dataclass(frozen=True)
class ServiceSettings:
    """Where the service listens and what it works with.

    Attributes
    ----------
    host, port : str, int
        Address to listen at; port 0 takes a free one.
    database : str
        File of the SQLite store, or the URL of a PostgreSQL database.
    tokens : Path
        File of tokens.
    certificate, key : Path or None
        TLS files (PEM).
    pool : int
        Processes for what takes long (details of a candidate, packs, checks).
    allowance : Allowance
        How much one person may ask for.
    """

    host: str = "127.0.0.1"
    port: int = 8741
    database: str = "runs/paretorque.sqlite"
    tokens: Path = Path("runs") / "tokens.json"
    certificate: Path | None = None
    key: Path | None = None
    pool: int = 1
    allowance: Allowance = field(default_factory=Allowance)

    def __post_init__(self) -> None:
        if not 0 <= self.port <= 65535:
            raise RequestError(f"--port: given {self.port}; allowed: 0 to 65535")
        if (self.certificate is None) != (self.key is None):
            raise RequestError("--tls-certificate and --tls-key: allowed: both or none")
        for name, file in (("--tls-certificate", self.certificate), ("--tls-key", self.key)):
            if file is not None and not file.is_file():
                raise RequestError(f"{name}: given {file}; allowed: an existing PEM file")

    @property
    def scheme(self) -> str:
        """`https` with TLS files, else `http`."""
        return "http" if self.certificate is None else "https"


def is_loopback(address: str) -> bool:
    """Return whether an address or host name means this machine alone."""
    if address == "localhost":
        return True
    try:
        found = ip_address(address.strip("[]"))
    except ValueError:
        return False
    mapped = getattr(found, "ipv4_mapped", None)
    return (mapped or found).is_loopback
