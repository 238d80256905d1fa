"""What makes the station start with the machine: a systemd user unit, or a task for Windows' scheduler."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from xml.sax.saxutils import escape

UNIT_NAME = "bar-speed-station.service"
TASK_NAME = "bar-speed-station.xml"

_UNIT = """[Unit]
Description=Bar-speed station, {rack}
After=graphical-session.target bluetooth.target
PartOf=graphical-session.target

[Service]
ExecStart={command}
WorkingDirectory={folder}
Restart=on-failure
RestartSec=3

[Install]
WantedBy=graphical-session.target
"""

# Task Scheduler schema 1.2 (Microsoft, "Task Scheduler Schema"): at logon, again after a failure, no time limit.
_TASK = """<?xml version="1.0" encoding="UTF-16"?>
<Task version="1.2" xmlns="http://schemas.microsoft.com/windows/2004/02/mit/task">
  <RegistrationInfo><Description>Bar-speed station, {rack}</Description></RegistrationInfo>
  <Triggers><LogonTrigger><Enabled>true</Enabled></LogonTrigger></Triggers>
  <Settings>
    <MultipleInstancesPolicy>IgnoreNew</MultipleInstancesPolicy>
    <DisallowStartIfOnBatteries>false</DisallowStartIfOnBatteries>
    <StopIfGoingOnBatteries>false</StopIfGoingOnBatteries>
    <RestartOnFailure><Interval>PT1M</Interval><Count>10</Count></RestartOnFailure>
    <ExecutionTimeLimit>PT0S</ExecutionTimeLimit>
  </Settings>
  <Actions>
    <Exec>
      <Command>{program}</Command>
      <Arguments>{arguments}</Arguments>
      <WorkingDirectory>{folder}</WorkingDirectory>
    </Exec>
  </Actions>
</Task>
"""


def systemd_unit(rack: str, python: Path, folder: Path) -> str:
    """A unit of systemd's user manager that opens this rack full-screen with the desktop (systemd.service(5))."""
    words = [str(python), *_arguments(rack)]
    # In a unit "%" begins a specifier and "$" a variable (systemd.unit(5), systemd.service(5)).
    command = shlex.join(words).replace("%", "%%").replace("$", "$$")
    return _UNIT.format(rack=rack.replace("%", "%%"), command=command, folder=str(folder).replace("%", "%%"))


def windows_task(rack: str, python: Path, folder: Path) -> str:
    """A task that opens this rack full-screen when somebody logs on; import it with `schtasks /create /xml`."""
    quoted = " ".join(f'"{word}"' if " " in word else word for word in _arguments(rack))
    return _TASK.format(
        rack=escape(rack), program=escape(str(python)), arguments=escape(quoted), folder=escape(str(folder))
    )


def write_autostart(
    rack: str, file: Path | None, folder: Path, platform: str = sys.platform
) -> tuple[Path, str]:
    """Write the file for this machine; where it is, and what to do with it.

    Args:
        file: where to; None: where the system looks for it (Linux), or this folder (Windows).
        folder: where the program runs.
    """
    python = Path(sys.executable)
    if platform == "win32":
        target = file or folder / TASK_NAME
        target.write_text(windows_task(rack, python, folder), encoding="utf-16")
        return target, f'schtasks /create /tn "Bar-speed station" /xml "{target}"'
    target = file or Path.home() / ".config" / "systemd" / "user" / UNIT_NAME
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text(systemd_unit(rack, python, folder), encoding="utf-8")
    return target, f"systemctl --user daemon-reload && systemctl --user enable --now {target.name}"


def _arguments(rack: str) -> list[str]:
    return ["-m", "station", "rack", "--rack", rack, "--full-screen"]
