"""What holds for every test, on any day and on a busy machine."""

import base64
import os
import time

# Two workers that each take both cores wait for one another: with a thread each they end in half the time.
for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(threads, "1")

import pytest  # noqa: E402
from hypothesis import HealthCheck, settings  # noqa: E402
from shipped import shipped  # noqa: E402

from bot.config.basis import Basis  # noqa: E402

# No clock of hypothesis decides.
settings.register_profile("any day", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any day")

if "FAKETIME" in os.environ:
    # Under libfaketime 0.9.10 a sleep whose end has passed before it begins, as a short one does on a busy
    # machine, fails with "Invalid argument" where it should end at once.
    sleep = time.sleep

    def _sleep(seconds: float) -> None:
        try:
            sleep(seconds)
        except OSError:
            return

    time.sleep = _sleep


@pytest.fixture(scope="session")
def basis() -> Basis:
    """What the program came with."""
    return shipped()


@pytest.fixture
def signed_json(monkeypatch: pytest.MonkeyPatch) -> None:
    """The environment of a service that knows who may hand it texts."""
    monkeypatch.setenv("TRENCHWORD_JSON_SECRETS", "whsec_" + base64.b64encode(b"of the tests alone").decode())


def pytest_report_teststatus(report: pytest.TestReport) -> tuple[str, str, str] | None:
    """A run prints its summary, and what failed, and nothing else: no sign for a test that passed."""
    if report.passed:
        return ("passed", "", "PASSED") if report.when == "call" else ("", "", "")
    return None
