"""What a simulated sensor measures, with the truth beside it."""

from __future__ import annotations

from dataclasses import dataclass, field

from drivers.samples import FloatArray, IntArray


@dataclass(frozen=True, slots=True)
class TrueRep:
    """The exact kinematics of one upward movement, by the station's own bounds rule. SI units.

    Attributes:
        failed: turned back before two thirds of the usual range of motion.
    """

    start_time_s: float
    end_time_s: float
    mean_velocity_m_s: float
    mean_propulsive_velocity_m_s: float
    peak_velocity_m_s: float
    displacement_m: float
    failed: bool = False


@dataclass(frozen=True, eq=False, slots=True)
class SensorTrace:
    """Samples as the sensor's own clock takes them, before packets and radio.

    Attributes:
        rate_hz: the true output rate.
        acc_m_s2, gyr_rad_s: what the sensor outputs, shapes (n, 3); sample k is taken at k / rate_hz.
        truth: the movements in it.
        seq: counter of each sample, shape (n,), where some are missing (a recording with losses); None: 0, 1, 2, ...
        device_time_s: the stamps of the sensor that was recorded, shape (n,), s; None where it had none.
        felt_m_s: mean velocity of each movement at the sensor's own place and on its own scale, shape (movements,):
            what a perfect treatment of the samples gives where neither is known; None where that was not simulated.
    """

    rate_hz: float
    acc_m_s2: FloatArray
    gyr_rad_s: FloatArray | None
    truth: tuple[TrueRep, ...] = field(default=())
    seq: IntArray | None = None
    device_time_s: FloatArray | None = None
    felt_m_s: FloatArray | None = None

    def __len__(self) -> int:
        return len(self.acc_m_s2)
