"""Agreement of two markers in templates."""

from __future__ import annotations

from django import template

from design_challenges.services.marking.agreement import Agreement
from design_challenges.services.marking.both import shown_kappa, shown_percent

register = template.Library()


@register.filter
def percent_alike(found: Agreement) -> str:
    """`{{ found|percent_alike }}`: the share of marks alike, in whole percent; nothing without a pair."""
    return shown_percent(found)


@register.filter
def kappa(found: Agreement) -> str:
    """`{{ found|kappa }}`: weighted kappa to two places; nothing where there is none."""
    return shown_kappa(found)
