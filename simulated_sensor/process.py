"""The simulated sensors in a process of their own, started and stopped by another program.

The child is told what to simulate in one line of JSON on its standard input, says in one line on its standard output
how to reach it, and ends when its standard input closes: when the program that started it ends, however it ends, so
does the child. Nothing here needs POSIX.
"""

from __future__ import annotations

import asyncio
import json
import queue
import subprocess
import sys
import tempfile
import threading
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from drivers.clock import ClockError
from drivers.recording import RecordingError
from drivers.toml_table import ProfileError
from simulated_sensor.serve import SensorSource, ServeError, on_controllers, on_virtual_radio
from simulated_sensor.trace import SensorTrace
from simulated_sensor.trace_file import save_trace

_START_TIMEOUT_S = 90.0  # a child that ends is noticed at once; a busy small computer may take its time
_STOP_TIMEOUT_S = 5.0


class SensorProcessError(Exception):
    """The simulated sensors' process did not start; the text holds what it said."""


class SensorProcess:
    """Simulated sensors in a child process. Used in a `with` statement, or with `start` and `stop`.

    Args:
        sensors: what to simulate; each with a file, or with a trace.
        transports: HCI controllers for the sensors, one each; None for a virtual radio inside the child.

    Attributes:
        transport: how a station reaches the child's virtual radio: a bumble transport. None with `transports`.
        addresses: addresses of the sensors.
    """

    def __init__(
        self,
        sensors: Sequence[SensorSource | tuple[SensorSource, SensorTrace]],
        transports: Sequence[str] | None = None,
    ) -> None:
        self._sensors, self._transports = sensors, transports
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._child: subprocess.Popen[str] | None = None
        self.transport: str | None = None
        self.addresses: list[str] = []

    def __enter__(self) -> SensorProcess:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    @property
    def process_id(self) -> int | None:
        """Its process id while it runs."""
        return self._child.pid if self._child is not None and self._child.poll() is None else None

    def start(self) -> None:
        """Start the child and wait until its sensors are on the air.

        Raises:
            SensorProcessError: when it does not come up.
        """
        self._folder = tempfile.TemporaryDirectory(prefix="simulated-sensor-", ignore_cleanup_errors=True)
        folder = Path(self._folder.name)
        wanted = {"sensors": [asdict(self._on_disk(one, folder, n)) for n, one in enumerate(self._sensors)]}
        with (folder / "stderr.txt").open("w", encoding="utf-8") as said:
            self._child = subprocess.Popen(
                [sys.executable, "-m", "simulated_sensor.process"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=said,
                text=True,
                encoding="utf-8",
            )
        answer = self._ask({**wanted, "transports": self._transports})
        if answer is None:
            text = (folder / "stderr.txt").read_text(encoding="utf-8").strip()
            self.kill()
            raise SensorProcessError(
                f"The simulated sensor did not start. {text.splitlines()[-1] if text else ''}"
            )
        self.transport, self.addresses = answer["transport"], answer["addresses"]

    def stop(self) -> None:
        """End the child in good order; it disconnects first."""
        self._end(kill=False)

    def kill(self) -> None:
        """End the child at once, as a flat battery would."""
        self._end(kill=True)

    def _ask(self, wanted: dict[str, Any]) -> dict[str, Any] | None:
        child = self._child
        assert child is not None
        assert child.stdin is not None
        assert child.stdout is not None
        lines: queue.Queue[str] = queue.Queue()
        out = child.stdout
        threading.Thread(target=lambda: lines.put(out.readline()), daemon=True).start()
        try:
            child.stdin.write(json.dumps(wanted) + "\n")
            child.stdin.flush()
            line = lines.get(timeout=_START_TIMEOUT_S)
        except (OSError, queue.Empty):
            return None
        return json.loads(line) if line else None

    def _end(self, *, kill: bool) -> None:
        child, self._child = self._child, None
        if child is not None:
            if kill:
                child.kill()
            with child:  # closes its standard input, then waits for it
                if child.stdin is not None and not child.stdin.closed:
                    child.stdin.close()
                try:
                    child.wait(_STOP_TIMEOUT_S)
                except subprocess.TimeoutExpired:
                    child.kill()
        if self._folder is not None:
            self._folder.cleanup()
            self._folder = None

    def _on_disk(
        self, sensor: SensorSource | tuple[SensorSource, SensorTrace], folder: Path, number: int
    ) -> SensorSource:
        if isinstance(sensor, SensorSource):
            return sensor
        source, trace = sensor
        path = folder / f"{number}.npz"
        save_trace(path, trace)
        return replace(source, file=str(path))


async def _child() -> None:
    """The child's side."""
    loop = asyncio.get_running_loop()
    wanted = json.loads(await loop.run_in_executor(None, sys.stdin.readline))
    stop = asyncio.Event()

    def wait_for_parent() -> None:
        sys.stdin.read()  # returns when the parent closes it, or ends
        loop.call_soon_threadsafe(stop.set)

    threading.Thread(target=wait_for_parent, daemon=True).start()
    sensors = [SensorSource(**one).sensor() for one in wanted["sensors"]]

    def say(transport: str | None) -> None:
        print(
            json.dumps({"transport": transport, "addresses": [sensor.address for sensor in sensors]}),
            flush=True,
        )

    if wanted["transports"] is None:
        async with on_virtual_radio(sensors) as (transport, _):
            say(transport)
            await stop.wait()
    else:
        async with on_controllers(sensors, wanted["transports"]):
            say(None)
            await stop.wait()


def main() -> None:
    """Run the child's side; what is wrong goes to standard error in one line."""
    try:
        asyncio.run(_child())
    except (ServeError, RecordingError, ClockError, ProfileError, ValueError, OSError) as error:
        print(error, file=sys.stderr)
        sys.exit(2)


if __name__ == "__main__":
    main()
