"""`calibrate`: a sensor laid on its six faces, a minute; what is found is kept with the sensor."""

from __future__ import annotations

import asyncio
from pathlib import Path

from rich.console import Console
from rich.live import Live
from rich.text import Text

from drivers.link import SensorLink
from drivers.link_events import LinkEvent
from drivers.profile import SensorProfile
from drivers.radio import Radio
from drivers.samples import SampleBlock
from station.commands.fail import clear_failures, fail
from station.commands.on_the_radio import known_profiles, run_on_the_radio, sensor_book
from station.commands.sensors_claim import the_named_one
from station.motion.calibration import (
    FACES,
    Calibration,
    CalibrationRefused,
    calibrated,
)
from station.motion.face_watch import FaceWatch
from station.store.sensor_book import SensorBook

BAR_WIDTH = 20


def run_calibration(
    named: str,
    gravity_m_s2: float,
    seconds: float,
    profile: Path | None,
    data: Path | None,
    radio: str | None,
) -> None:
    """Calibrate one sensor, or say in a sentence why not."""
    with clear_failures():
        work = _calibrate(radio, sensor_book(data), known_profiles(profile), named, gravity_m_s2, seconds)
        try:
            run_on_the_radio(work)
        except CalibrationRefused as refused:
            fail(f"{refused} Nothing was changed.", status=1)


async def _calibrate(
    transport: str | None,
    book: SensorBook,
    profiles: tuple[SensorProfile, ...],
    named: str,
    gravity_m_s2: float,
    seconds: float,
) -> None:
    console = Console(emoji=False)
    async with Radio(transport) as radio:
        sensor = await the_named_one(radio, profiles, named)
        assert sensor.profile is not None, "only sensors with a profile are chosen"
        watch = FaceWatch(sensor.profile.rate_hz)
        with Live(progress(watch), console=console, auto_refresh=False) as live:

            def on_samples(block: SampleBlock) -> None:
                if watch.missing and (watch.take(block.acc_m_s2) or console.is_terminal):
                    live.update(progress(watch), refresh=True)
                if not watch.missing:
                    done.set()

            done = asyncio.Event()
            link = SensorLink(
                radio, sensor.address, sensor.profile, on_samples, _ignore, name=sensor.name or sensor.address
            )
            try:
                async with link, asyncio.timeout(seconds):
                    await done.wait()
            except TimeoutError:
                missing = ", ".join(watch.missing)
                raise CalibrationRefused(
                    f"After {seconds:.0f} s these faces were still missing: {missing}."
                ) from None
    found = calibrated(list(watch.rests.values()), gravity_m_s2)
    book.calibrated(sensor.address, sensor.name, found.as_row())
    console.print(
        summary(sensor.name or sensor.address, found), highlight=False, markup=False, soft_wrap=True
    )


def _ignore(_event: LinkEvent) -> None:
    """A link that drops comes back by itself; the faces seen so far stay."""


def progress(watch: FaceWatch) -> Text:
    """One line a face, as far as it is seen, and what to do next."""
    lines = []
    for face in FACES:
        share = 1.0 if face in watch.rests else watch.share if face == watch.face else 0.0
        bar = "█" * round(share * BAR_WIDTH)
        mark = "done" if face in watch.rests else "now" if face == watch.face else "missing"
        lines.append(f"{face} up  {bar:<{BAR_WIDTH}}  {mark}")
    if not watch.missing:
        lines.append("All six faces are seen.")
    elif watch.face is not None and watch.face not in watch.rests:
        lines.append("Let it lie.")
    else:
        lines.append(f"Turn it on another face; still missing: {', '.join(watch.missing)}.")
    return Text("\n".join(lines))


def summary(name: str, found: Calibration) -> str:
    """What was found, in a sentence or two."""
    bias = ", ".join(f"{b:+.3f}" for b in found.bias_m_s2)
    scale = ", ".join(f"{100 * (m - 1):+.2f} %" for m in found.matrix.diagonal())
    return (
        f"{name} is calibrated: bias {bias} m/s² and scale {scale} on x, y, z; what is left is "
        f"{found.residual_m_s2:.3f} m/s² against gravity of {found.gravity_m_s2:.4f} m/s²."
    )
