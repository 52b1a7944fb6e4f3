"""Forms of marking: which rubric to begin with, a rubric's criteria, a remark."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django import forms
from django.utils.text import slugify
from django.utils.translation import gettext_lazy as _

from classroom.forms.base import TOO_LONG, TidyCharField
from design_challenges.models import Rubric
from design_challenges.models.marking import HEAVIEST
from design_challenges.services.marking.rules import RULES
from design_challenges.services.marking.standards import GRADES, STANDARDS
from design_challenges.services.marking.usual import Draft

MOST_CRITERIA = 16


class StartRubricForm(forms.Form):
    """Which rubric a class begins with: the usual one of a grade, or one that the teacher keeps."""

    start = forms.ChoiceField(
        label=_("Begin with"),
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose a rubric to begin with.")},
    )

    def __init__(self, data: Any, kept: Iterable[Rubric]) -> None:
        super().__init__(data)
        usual = [
            (f"grade-{grade}", _("The usual rubric for grade %(grade)d") % {"grade": grade})
            for grade in GRADES
        ]
        own = [(f"kept-{rubric.pk}", _("Your own: %(name)s") % {"name": rubric.name}) for rubric in kept]
        self.fields["start"].choices = [*usual, *own]  # type: ignore[attr-defined]


class NameForm(forms.Form):
    """A name to keep a rubric under."""

    name = TidyCharField(
        label=_("Keep it as"),
        max_length=60,
        help_text=_("It can then be chosen for any of your classes. One of the same name is replaced."),
        error_messages={"required": _("Type a name to keep it under."), "max_length": TOO_LONG},
    )


class CriterionForm(forms.Form):
    """One criterion; a row of a rubric that is left empty adds none."""

    key = forms.SlugField(required=False, max_length=40, widget=forms.HiddenInput)
    title = TidyCharField(
        label=_("What is looked at"),
        max_length=60,
        error_messages={"required": _("Say in a few words what is looked at."), "max_length": TOO_LONG},
        widget=forms.TextInput(attrs={"class": "full"}),
    )
    short = TidyCharField(
        label=_("Short"),
        help_text=_("Stands over its column."),
        max_length=24,
        error_messages={"required": _("Type a short name for its column."), "max_length": TOO_LONG},
    )
    weight = forms.IntegerField(
        label=_("Weight"),
        help_text=_("0: shown, not graded."),
        min_value=0,
        max_value=HEAVIEST,
        error_messages={
            "required": _("Type a whole number from 0 to 20."),
            "invalid": _("Type a whole number from 0 to 20."),
            "min_value": _("A weight is at least 0."),
            "max_value": _("A weight is at most 20."),
        },
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "class": "short"}),
    )
    codes = TidyCharField(
        label=_("Standards"),
        required=False,
        max_length=120,
        help_text=_("Codes with blanks between them."),
        error_messages={"max_length": TOO_LONG},
    )
    evidence = forms.ChoiceField(label=_("Evidence beside it"), required=False)
    remove = forms.BooleanField(label=_("Leave this criterion out"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        none = [("", _("nothing, I look for myself"))]
        self.fields["evidence"].choices = [  # type: ignore[attr-defined]
            *none,
            *((rule.slug, rule.label) for rule in RULES.values()),
        ]
        for level in range(1, 5):
            self.fields[f"level_{level}"] = TidyCharField(
                label=_("Level %(level)d") % {"level": level},
                max_length=200,
                error_messages={
                    "required": _("Say in plain words what this level looks like."),
                    "max_length": TOO_LONG,
                },
                widget=forms.Textarea(attrs={"rows": 2, "class": "full"}),
            )

    @property
    def level_fields(self) -> list[forms.BoundField]:
        """Return the four levels' fields, the lowest first."""
        return [self[f"level_{level}"] for level in range(1, 5)]

    def full_clean(self) -> None:
        """Take a criterion that is left out as it is, however little of it is filled in."""
        super().full_clean()
        if self.is_bound and self.cleaned_data.get("remove"):
            self.errors.clear()

    def draft(self, taken: set[str]) -> Draft:
        """Return the criterion; a new one gets a key that none of `taken` has."""
        told = self.cleaned_data
        key = told["key"] or free_key(told["title"], taken)
        taken.add(key)
        first, second, third, fourth = (told[f"level_{level}"] for level in range(1, 5))
        return Draft(
            key=key,
            title=told["title"],
            short=told["short"],
            levels=(first, second, third, fourth),
            codes=tuple(told["codes"].split()),
            evidence=told["evidence"],
            weight=told["weight"],
        )


class CriteriaFormSet(forms.BaseFormSet):
    """A rubric's criteria; at least one of them graded."""

    def clean(self) -> None:
        if any(self.errors):
            return
        kept = self.kept()
        if not any(form.cleaned_data["weight"] for form in kept):
            raise forms.ValidationError(_("Give at least one criterion a weight of 1 or more."))
        keys = [form.cleaned_data["key"] for form in kept if form.cleaned_data["key"]]
        if len(keys) != len(set(keys)):
            raise forms.ValidationError(_("Two criteria got mixed up. Load the page again."))

    def kept(self) -> list[CriterionForm]:
        """Return the forms that are filled in and not left out."""
        return [form for form in self.forms if form.has_changed() and not form.cleaned_data.get("remove")]

    def drafts(self) -> list[Draft]:
        """Return the criteria in their order."""
        kept = self.kept()
        taken = {form.cleaned_data["key"] for form in kept}
        return [form.draft(taken) for form in kept]


def criteria_formset(data: Any, drafts: Sequence[Draft], extra: int = 1) -> CriteriaFormSet:
    """Return the forms of a rubric's criteria, with room for new ones."""
    made = forms.formset_factory(
        CriterionForm,
        formset=CriteriaFormSet,
        extra=extra,
        max_num=MOST_CRITERIA,
    )
    initial = [
        {
            "key": draft.key,
            "title": draft.title,
            "short": draft.short,
            "weight": draft.weight,
            "codes": " ".join(draft.codes),
            "evidence": draft.evidence,
            **{f"level_{level}": words for level, words in enumerate(draft.levels, start=1)},
        }
        for draft in drafts
    ]
    formset: CriteriaFormSet = made(data, initial=initial if data is None else None, prefix="c")  # type: ignore[assignment]
    return formset


def free_key(title: str, taken: set[str]) -> str:
    """Return a key made of a title that is not taken yet."""
    base = slugify(title)[:32].strip("-") or "criterion"
    number, key = 1, base
    while key in taken or key in STANDARDS:
        number += 1
        key = f"{base}-{number}"
    return key


class RemarkForm(forms.Form):
    """Late, and a comment."""

    late = forms.BooleanField(label=_("It came late"), required=False)
    comment = forms.CharField(
        label=_("Comment"),
        required=False,
        max_length=1000,
        error_messages={"max_length": TOO_LONG},
        widget=forms.Textarea(attrs={"rows": 3, "class": "full", "quiet_optional": True}),
    )
