"""Strings in sympathy: the closed form against a numerical solution of the same equation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from tonecompare import strings as st
from tonecompare.errors import InputError
from tonecompare.strings.modes import force_drive, string_modes
from tonecompare.strings.sympathetic import _low, _responses, render_sympathy

GUITAR = st.standard_instrument()
CHANNEL = st.Channel("magnetic", st.single_coil(90.0))
RATE_HZ = 16000.0
MOBILITY = 5e-4


def test_closed_form_solves_the_equation_of_the_driven_string() -> None:
    """q'' + 2 sigma q' + |s|² q = -(2 / m pi) u'', u' = Y F, at rest before: Runge–Kutta."""
    _, driver = string_modes(GUITAR, st.PluckSpec(0.0, 5, angle_deg=0.0), rate_hz=2000.0)
    _, modes = string_modes(GUITAR, st.PluckSpec(0.0, 1, angle_deg=0.0), rate_hz=2000.0)
    forced, free = _responses(driver, modes, MOBILITY)
    rates, s, force = _low(driver), _low(modes), force_drive(driver)[:, 0]
    m = 0

    def change(t: float, y: np.ndarray) -> list[float]:
        drive = np.sum(rates * MOBILITY * force * np.exp(rates * t)).real
        push = -2.0 / ((m + 1) * np.pi) * drive
        return [y[1], push + 2.0 * s[m].real * y[1] - abs(s[m]) ** 2 * y[0]]

    t = np.linspace(0.0, 0.05, 40)
    solved = solve_ivp(change, (0.0, 0.05), [0.0, 0.0], t_eval=t, rtol=1e-8, atol=1e-16)
    closed = (np.exp(np.outer(t, rates)) @ forced[:, m] + np.exp(s[m] * t) * free[m]).real
    assert closed == pytest.approx(solved.y[0], abs=1e-4 * np.max(np.abs(solved.y[0])))


def test_held_strings_are_silent_and_open_ones_follow_the_mobility() -> None:
    pluck = [st.PluckSpec(0.05, 5)]

    def ring(mobility: float) -> list[np.ndarray]:
        found = render_sympathy(GUITAR, CHANNEL, pluck, mobility_s_per_kg=mobility,
                                rate_hz=RATE_HZ, n=8000, held=(2, 3, 4, 6))  # fmt: skip
        assert [each.string for each in found] == [1]
        return [each.forced + each.free for each in found]

    (weak,), (strong,) = ring(1e-4), ring(2e-4)
    assert strong == pytest.approx(2.0 * weak)
    assert not np.any(weak[: round(0.05 * RATE_HZ)])


def test_a_blend_is_refused() -> None:
    blend = st.Channel("blend", st.single_coil(90.0), st.Piezo(), ratio=0.4)
    with pytest.raises(InputError, match="magnetic or a piezo channel alone"):
        render_sympathy(GUITAR, blend, [], mobility_s_per_kg=1e-4, rate_hz=RATE_HZ, n=10)
