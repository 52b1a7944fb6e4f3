"""Least squares and analysis of variance against NIST's certified values; log relative errors are printed."""

from __future__ import annotations

import pytest

from design_challenges.services.analysis.regression import Fit, least_squares
from design_challenges.services.analysis.variance import OneWay, one_way
from tests.outside import nist_strd as nist
from tests.outside.nist_strd import digits


def errors_of_fit(fit: Fit, coefficients: tuple[str, ...], errors: tuple[str, ...]) -> tuple[float, float]:
    return (
        min(digits(c, certified) for c, certified in zip(fit.coefficients, coefficients, strict=True)),
        min(digits(e, certified) for e, certified in zip(fit.standard_errors, errors, strict=True)),
    )


def fits() -> dict[str, tuple[float, float, float]]:
    x, y = nist.norris()
    norris = least_squares([x], y)
    longley = least_squares(nist.LONGLEY_COLUMNS, nist.LONGLEY_Y)
    noint = least_squares([nist.NOINT1_X], nist.NOINT1_Y, constant=False)
    assert norris is not None
    assert longley is not None
    assert noint is not None
    assert norris.r_squared is not None
    assert noint.r_squared is not None
    assert digits(norris.r_squared, nist.NORRIS_R2) > 14
    assert digits(noint.r_squared, nist.NOINT1_R2) > 14
    return {
        "Norris": (
            *errors_of_fit(norris, nist.NORRIS_COEFFICIENTS, nist.NORRIS_ERRORS),
            digits(norris.residual_sd, nist.NORRIS_SD),
        ),
        "NoInt1": (
            *errors_of_fit(noint, nist.NOINT1_COEFFICIENTS, nist.NOINT1_ERRORS),
            digits(noint.residual_sd, nist.NOINT1_SD),
        ),
        "Longley": (
            *errors_of_fit(longley, nist.LONGLEY_COEFFICIENTS, nist.LONGLEY_ERRORS),
            digits(longley.residual_squares, nist.LONGLEY_RESIDUAL_SQUARES),
        ),
    }


def test_regression_has_nine_digits_and_on_longley_what_doubles_allow(
    capsys: pytest.CaptureFixture[str],
) -> None:
    lines = ["", "NIST StRD linear regression, correct digits (log relative error, 15 at most):"]
    lines.append(f"{'set':10}{'coefficients':>14}{'errors':>8}{'residual':>10}")
    for name, found in fits().items():
        lines.append(f"{name:10}{found[0]:14.1f}{found[1]:8.1f}{found[2]:10.1f}")
        assert min(found) > (11 if name == "Longley" else 12)
    with capsys.disabled():
        print("\n".join(lines))


def anova_digits(table: OneWay, name: str) -> dict[str, float]:
    certified = nist.anova_certified(name)
    assert table.f is not None
    assert table.r_squared is not None
    assert table.within_sd is not None
    return {
        "between squares": digits(table.between_squares, certified["between squares"]),
        "within squares": digits(table.within_squares, certified["within squares"]),
        "F": digits(table.f, certified["F"]),
        "R²": digits(table.r_squared, certified["R²"]),
        "residual sd": digits(table.within_sd, certified["residual sd"]),
    }


# After thirteen equal leading digits a double keeps about three of what scatters.
FROM_DOUBLES = {"SiRstv": 12.0, "AtmWtAg": 9.0, "SmLs07": 2.5}


def test_analysis_of_variance_has_every_digit_of_decimals_and_what_doubles_allow(
    capsys: pytest.CaptureFixture[str],
) -> None:
    lines = ["", "NIST StRD analysis of variance, correct digits (log relative error, 15 at most):"]
    lines.append(f"{'set':10}{'':10}{'between':>9}{'within':>8}{'F':>7}{'R²':>7}{'sd':>7}")
    for name, least in FROM_DOUBLES.items():
        groups = nist.anova_groups(name)
        for said, data in (("decimals", groups), ("doubles", [[float(v) for v in g] for g in groups])):
            found = anova_digits(one_way(data), name)
            lines.append(
                f"{name:10}{said:10}"
                + "".join(f"{n:{w}.1f}" for n, w in zip(found.values(), (9, 8, 7, 7, 7), strict=True))
            )
            assert min(found.values()) > (13 if said == "decimals" else least)
    with capsys.disabled():
        print("\n".join(lines))


def test_no_value_was_lost_on_the_way() -> None:
    assert [len(nist.anova_groups(name)) for name in FROM_DOUBLES] == [5, 2, 9]
    assert [sum(map(len, nist.anova_groups(name))) for name in FROM_DOUBLES] == [25, 48, 189]
    assert len(nist.norris()[0]) == 36
