"""`calibrate`: a sensor laid on its six faces and leaned six ways, a minute; what is found is kept with it."""

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
from drivers.scan import SensorInRange
from station.commands.fail import clear_failures, fail
from station.commands.on_the_radio import known_profiles, run_on_the_radio, sensor_book
from station.commands.sensors_claim import the_named_one
from station.motion.calibration import Calibration, CalibrationRefused, calibrated
from station.motion.face_watch import FaceWatch
from station.motion.rest_geometry import FACES, LEANS, PAIRS
from station.store.errors import SensorBookHeld
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
                if not watch.complete and (watch.take(block.acc_m_s2) or console.is_terminal):
                    live.update(progress(watch), refresh=True)
                if watch.complete:
                    done.set()

            done = asyncio.Event()
            link = SensorLink(
                radio, sensor.address, sensor.profile, on_samples, _ignore, name=sensor.name or sensor.address
            )
            try:
                async with link, asyncio.timeout(seconds):
                    await done.wait()
            except TimeoutError:
                raise CalibrationRefused(f"After {seconds:.0f} s {_still_missing(watch)}") from None
    found = calibrated(watch.all_rests, gravity_m_s2)
    keep_calibration(book, sensor, found, console)
    console.print(
        summary(sensor.name or sensor.address, found), highlight=False, markup=False, soft_wrap=True
    )


def keep_calibration(book: SensorBook, sensor: SensorInRange, found: Calibration, console: Console) -> None:
    """Write it into the book, however long another program holds that: what took minutes is not thrown away."""
    while True:
        try:
            book.calibrated(sensor.address, sensor.name, found.as_row())
            return
        except SensorBookHeld as held:
            said = f"{held}. Trying again; Ctrl-C gives the calibration up."
            console.print(said, highlight=False, markup=False, soft_wrap=True)


def _ignore(_event: LinkEvent) -> None:
    """A link that drops comes back by itself; the rests seen so far stay."""


def progress(watch: FaceWatch) -> Text:
    """One line a face, then one a lean, as far as it is seen, and what to do next."""
    lines = [_line(f"{face} up", face in watch.rests, face == watch.face, watch.share) for face in FACES]
    if not watch.missing:
        missing = watch.missing_leans
        lines.extend(
            _line(f"lean {lean}", lean not in missing, lean == watch.lean, watch.share) for lean in LEANS
        )
    return Text("\n".join([*lines, _what_to_do(watch)]))


def _line(name: str, done: bool, now: bool, share: float) -> str:
    bar = "█" * round((1.0 if done else share if now else 0.0) * BAR_WIDTH)
    return f"{name:<20}  {bar:<{BAR_WIDTH}}  {'done' if done else 'now' if now else 'missing'}"


def _what_to_do(watch: FaceWatch) -> str:
    """One sentence for whoever holds the sensor."""
    if watch.complete:
        return "All faces and leans are seen."
    if watch.share < 1.0 and (watch.lean or (watch.face and watch.face not in watch.rests)):
        return "Let it lie."
    if watch.missing:
        return f"Turn it on another face; still missing: {', '.join(watch.missing)}."
    return (
        "Stand it on an edge, leaning halfway (30 to 60 degrees) on a wall or a book, so that it lies between two "
        f"faces; then the same turned over. Still missing: {', '.join(watch.missing_leans)}."
    )


def _still_missing(watch: FaceWatch) -> str:
    """What a run that was given up lacked."""
    if watch.missing:
        return f"these faces were still missing: {', '.join(watch.missing)} (and after them the leans)."
    return (
        f"the six faces were seen, but these leans were still missing: {', '.join(watch.missing_leans)}. "
        "Without them cross-axis errors are not known."
    )


def summary(name: str, found: Calibration) -> str:
    """What was found, in a sentence or two."""
    bias = ", ".join(f"{b:+.3f}" for b in found.bias_m_s2)
    scale = ", ".join(f"{100 * (m - 1):+.2f} %" for m in found.matrix.diagonal())
    cross = ", ".join(f"{100 * found.matrix[at]:+.2f} %" for at in ((0, 1), (0, 2), (1, 2)))
    return (
        f"{name} is calibrated: bias {bias} m/s² and scale {scale} on x, y, z, cross-axis {cross} between "
        f"{', '.join(PAIRS)}; what is left is "
        f"{found.residual_m_s2:.3f} m/s² against gravity of {found.gravity_m_s2:.4f} m/s²."
    )
